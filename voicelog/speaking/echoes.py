"""The last line against the program's own words: what was heard over them and says the same is no answer."""

from difflib import SequenceMatcher
from typing import Final

_SAME: Final = 0.6


def repeats(heard: str, spoken: str) -> bool:
    """Whether most of the words that were heard are, in their order, among those that the program was saying."""
    words, own = heard.lower().split(), spoken.lower().replace(",", " ").replace(":", " ").split()
    if not words:
        return False
    blocks = SequenceMatcher(a=words, b=own, autojunk=False).get_matching_blocks()
    return sum(block.size for block in blocks) >= _SAME * len(words)
