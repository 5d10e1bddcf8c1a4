"""Notes of typed lines, in the letters and marks that they were typed with."""

import re

from voicelog.phrases import meanings as say
from voicelog.phrases.language import Language
from voicelog.phrases.matcher import Meanings, tokenise, written

_WORD = re.compile(r"\S+")


def as_written(line: str, reading: Meanings, language: Language) -> Meanings:
    """What a line says, with the text of a note at its end as it was typed: "ortho-k, last worn 3 days ago"."""
    match reading:
        case [*before, say.Note(text=str(text)) as note]:
            for found in _WORD.finditer(line):
                rest = line[found.start() :].strip()
                if written(tokenise(rest, language)) == text:
                    return (*before, note.model_copy(update={"text": rest}))
    return reading
