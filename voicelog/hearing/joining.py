"""What is said with a pause in it: "plus one ... seventy five" is one number, though it comes as two utterances.

The end-pointer takes half a second of silence for the end. Where the next utterance begins soon, and is nothing that
can be entered by itself, both are heard once more as one. If that says what the first said and goes on with numbers,
the first was only its beginning; and where neither could be entered, both together may be.
"""

from dataclasses import dataclass

import numpy as np

from voicelog.hearing.decision import decide
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.hearing.utterance import Utterance
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.lines import words_of

LONGEST_PAUSE_S = 1.5
_LONGEST_WHOLE_S = 12.0
_NUMBERS = ("magnitude", "axis", "distance")


@dataclass(frozen=True, slots=True, eq=False)
class Begun:
    """The last utterance, what was heard in it, and how many acts came of it: the next may go on with it."""

    utterance: Utterance
    hearing: Hearing
    acts: int

    def may_go_on(self, other: Utterance) -> bool:
        """Whether `other` begins soon enough behind it."""
        one = self.utterance
        pause_s = (other.start_sample - one.end_sample) / SAMPLE_RATE_HZ
        whole_s = (other.padded_end_sample - one.padded_start_sample) / SAMPLE_RATE_HZ
        near = 0 <= pause_s <= LONGEST_PAUSE_S and whole_s <= _LONGEST_WHOLE_S
        return near and one.ending == other.beginning == "pause"

    def sound_with(self, other: Utterance) -> Samples:
        """Both with the silence between them, shape (n,)."""
        missing = max(0, other.padded_start_sample - self.utterance.padded_end_sample)
        return np.concatenate([self.utterance.samples, np.zeros(missing, np.float32), other.samples])

    def is_begun_by(self, both: Hearing, grammar: Grammar) -> bool:
        """Whether `both`, heard as one, is more than what was taken of the first by itself.

        Where something was entered: it says the same, and then more of its number. Else: it can be entered.
        """
        outcome = decide(both, grammar.language)
        if not self.acts:
            return outcome == "accepted"
        if outcome == "ignored" or not self.hearing.hypotheses:
            return False
        first, whole = (hearing.hypotheses[0].text.lower().split() for hearing in (self.hearing, both))
        numbers = frozenset().union(*(words_of(grammar, rule) for rule in _NUMBERS))
        more = whole[len(first) :]
        return whole[: len(first)] == first and bool(more) and numbers.issuperset((*more, first[-1]))
