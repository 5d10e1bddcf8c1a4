"""The last line against the program's own words: what was heard over them and says the same is no answer."""

from dataclasses import replace
from difflib import SequenceMatcher
from typing import Final

from voicelog.hearing.utterance import Utterance

_SAME: Final = 0.6
_ALL_THE_SAME: Final = 0.9


def repeats(heard: str, spoken: str) -> bool:
    """Whether most of the words that were heard are, in their order, among those that the program was saying."""
    return _shared(heard, spoken) >= _SAME


def said_over(utterance: Utterance, heard: str, spoken: str) -> Utterance | None:
    """What was said over the program's words, by what was heard of it; None where it repeats them all.

    Where it has most of them in common it may be the examiner's next reading as well ("streak vertical neutral" over
    "streak vertical against"): it counts as not whole, so that it is asked about.
    """
    shared = _shared(heard, spoken)
    if shared >= _ALL_THE_SAME:
        return None
    return replace(utterance, over_own=True, beginning="gap" if shared >= _SAME else utterance.beginning)


def _shared(heard: str, spoken: str) -> float:
    """The share of the words heard that are, in their order, among those spoken; 0 where none were heard."""
    words, own = heard.lower().split(), spoken.lower().replace(",", " ").replace(":", " ").split()
    if not words:
        return 0.0
    blocks = SequenceMatcher(a=words, b=own, autojunk=False).get_matching_blocks()
    return sum(block.size for block in blocks) / len(words)
