"""What is said with a pause in it: "plus one ... seventy five" is one number, though it comes as two utterances.

The end-pointer takes half a second of silence for the end. Where the next utterance begins soon, both are heard once
more as one. If that says what the first said and goes on with its number, the first was only a beginning; and where the
first could not be entered, both together may be.
"""

from dataclasses import dataclass, replace

import numpy as np

from voicelog.hearing.decision import decide
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.patience import is_beginning
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.hearing.utterance import Utterance
from voicelog.phrases import meanings as say
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.outcome import Outcome
from voicelog.phrases.word_sets import words_of

LONGEST_PAUSE_S = 1.5
_BEHIND_NUMBER_S = 1.8
"""Behind a number alone: the detector of speech takes a little from the end of so short a word."""
_LONGEST_WHOLE_S = 12.0
_NUMBERS = ("magnitude", "axis", "distance")
_VALUES = (say.LoosePower, say.LooseAxis, say.LooseWhere)
_BARE = frozenset({"power", "axis", "sign", "where", "digit", "distance"})


@dataclass(frozen=True, slots=True, eq=False)
class Begun:
    """The last utterance, what was listened for and heard in it, and what came of it: the next may go on with it."""

    utterance: Utterance
    rule: str
    hearing: Hearing
    outcome: Outcome
    acts: int

    def may_go_on(self, other: Utterance, grammar: Grammar) -> bool:
        """Whether `other` begins soon enough behind it."""
        longest_s = _BEHIND_NUMBER_S if self.is_number(grammar) else LONGEST_PAUSE_S
        one = self.utterance
        pause_s = (other.start_sample - one.end_sample) / SAMPLE_RATE_HZ
        whole_s = (other.padded_end_sample - one.padded_start_sample) / SAMPLE_RATE_HZ
        near = 0 <= pause_s <= longest_s and whole_s <= _LONGEST_WHOLE_S
        return near and one.ending == other.beginning == "pause"

    def is_apart_from(self, rest: Hearing, grammar: Grammar) -> bool:
        """Whether `rest` goes on with nothing: an entry of its own that no number begins; or nothing was begun.

        Talk is not heard twice: it is no beginning of a phrase, or has no word that tells something.
        """
        if self.outcome == "ignored" and not self.is_number(grammar):
            tells = not words_of(grammar, "telling").isdisjoint(self._words(self.hearing))
            if not tells or not is_beginning(self.hearing):
                return True
        return self._stands_alone(rest, grammar) and not self._is_number(self._words(rest)[0], grammar)

    def is_number(self, grammar: Grammar) -> bool:
        """Whether nothing but digits and numbers was heard: "one", of an axis that is said digit by digit.

        In its letters, too, where the likeliest phrase is another: "one" sounds like "done".
        """
        heard = (self._words(self.hearing), self.hearing.free_text.lower().split())
        return any(words and all(self._is_number(word, grammar) for word in words) for words in heard)

    def leaves_half(self, rest: Hearing, grammar: Grammar) -> bool:
        """Whether `rest` may be the second half of a number whose first was not taken: alone it is no answer then."""
        half = self.outcome == "ignored" and self.is_number(grammar)
        return half and bool(rest.hypotheses) and self._is_number(self._words(rest)[0], grammar)

    def with_rest(
        self, other: Utterance, samples: Samples, both: Hearing, outcome: Outcome, acts: int
    ) -> "Begun":
        """Both, with their sound, as the beginning of what may come next: "one ... seven ... five"."""
        one = self.utterance
        whole = replace(
            one,
            samples=samples,
            end_sample=other.end_sample,
            pad_after=other.pad_after,
            ending=other.ending,
            runs=(*one.runs, *other.runs),
        )
        return Begun(whole, self.rule, both, outcome, acts)

    def in_its_place(self, whole: Meanings, *, sure: bool) -> Meanings:
        """What both say, in the place of what was entered of the first; a bare value puts right the one it was."""
        if self.acts and len(whole) == 1 and isinstance(whole[0], _VALUES):
            return (say.Correction(entry=whole[0]),)
        return (say.Scratch(count=self.acts), *whole) if self.acts and sure else whole

    def sound_with(self, other: Utterance) -> Samples:
        """Both with the silence between them, shape (n,)."""
        missing = max(0, other.padded_start_sample - self.utterance.padded_end_sample)
        return np.concatenate([self.utterance.samples, np.zeros(missing, np.float32), other.samples])

    def together(self, rest: Hearing, both: Hearing, grammar: Grammar) -> Outcome:
        """What becomes of both as one phrase, `rest` being what the second says alone; ignored: they are two.

        A rest that could stand for itself is never joined to an entry without a question.
        """
        outcome = decide(both, grammar.language)
        first, whole = _meanings(self.hearing), _meanings(both)
        if outcome == "ignored" or whole in (first, first + _meanings(rest)):
            return "ignored"
        if self.outcome == "ignored":
            return "accepted" if outcome == "accepted" else "ignored"
        more = self._said_more(both)
        if self.outcome == "asked":
            return "accepted" if outcome == "accepted" and more else "ignored"
        if (
            not more
            or not self._is_number(more[0], grammar)
            or not self._is_number(self._words(self.hearing)[-1], grammar)
        ):
            return "ignored"
        return "asked" if self._stands_alone(rest, grammar) else outcome

    @staticmethod
    def _stands_alone(rest: Hearing, grammar: Grammar) -> bool:
        whole = any(each.kind not in _BARE for each in _meanings(rest))
        return whole and decide(rest, grammar.language) == "accepted"

    def _said_more(self, both: Hearing) -> list[str]:
        """The words that both say beyond the first; none where they do not begin with it."""
        first, whole = self._words(self.hearing), self._words(both)
        return whole[len(first) :] if whole[: len(first)] == first else []

    @staticmethod
    def _words(hearing: Hearing) -> list[str]:
        text = hearing.hypotheses[0].text if hearing.hypotheses else hearing.free_text
        return text.lower().split()

    @staticmethod
    def _is_number(word: str, grammar: Grammar) -> bool:
        return any(word in words_of(grammar, rule) for rule in _NUMBERS)


def _meanings(hearing: Hearing) -> Meanings:
    return hearing.hypotheses[0].meanings if hearing.hypotheses else ()
