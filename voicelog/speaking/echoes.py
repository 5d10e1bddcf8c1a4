"""The last line against the program's own words: what was heard over them and says the same is no answer."""

from dataclasses import replace
from difflib import SequenceMatcher
from typing import Final

from voicelog.hearing.utterance import Utterance

_SAME: Final = 0.6
_ALL_THE_SAME: Final = 0.9


def repeats(heard: str, spoken: str, least: float = _SAME) -> bool:
    """Whether most of the words that were heard are, in their order, among those that the program was saying."""
    words, own = heard.lower().split(), spoken.lower().replace(",", " ").replace(":", " ").split()
    if not words:
        return False
    blocks = SequenceMatcher(a=words, b=own, autojunk=False).get_matching_blocks()
    return sum(block.size for block in blocks) >= least * len(words)


def said_over(utterance: Utterance, heard: str, spoken: str) -> Utterance | None:
    """What was said over the program's words, by what was heard of it; None where it repeats them all.

    Where it has most of them in common it may be the examiner's next reading as well ("streak vertical neutral" over
    "streak vertical against"): it counts as not whole, so that it is asked about.
    """
    if not repeats(heard, spoken):
        return replace(utterance, over_own=True)
    if repeats(heard, spoken, _ALL_THE_SAME):
        return None
    return replace(utterance, over_own=True, beginning="gap")
