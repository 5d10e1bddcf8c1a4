"""The name of who is spoken to, in a typed line: "right eye first, Dorothy", "Mr Ahmed, left eye"."""

import re

from voicelog.phrases.word_sets import WordSets

_TITLED = r"(?:(?:Mr|Mrs|Miss|Ms|Dr|Master|Auntie|Uncle)\.? )?"
_NAME = re.compile(
    rf",\s*{_TITLED}(?P<last>[A-Z][a-z]+)(?=\s*[.,!?]*$|,)|^{_TITLED}(?P<first>[A-Z][a-z]+),\s+(?=\S)"
)


def without_names(line: str, sets: WordSets) -> str:
    """A line without such a name: set off by a comma, with a capital, and no word of the grammar or its lists."""

    def kept(found: re.Match[str]) -> str:
        name = found["last"] or found["first"]
        return found[0] if name.casefold() in sets.known | sets.guarded | sets.doubt else ""

    return _NAME.sub(kept, line)
