"""The first listener, and another that is asked where the first is not sure: then it is entered only if both agree.

The other one hears the sound anew and by itself. It is loaded when it is first needed: in quiet that is seldom. It is
asked about bare numbers too, however sure the first is: they have no words around them that would not fit a wrong one.
"""

from collections.abc import Callable
from dataclasses import replace
from math import inf

from voicelog.hearing.decision import decide
from voicelog.hearing.engines.protocol import Engine, Hearing, Samples
from voicelog.hearing.misheard import numbers_that_are_misheard
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.word_sets import words_of

_NUMBERS = ("digit", "magnitude", "axis", "distance")


class Consulting:
    """An engine whose hearings carry a second opinion where one was worth asking for.

    `second` makes the other listener. With `doubting_numbers` it is asked about every fifteen and fifty as well.
    """

    def __init__(
        self,
        grammar: Grammar,
        first: Engine,
        second: Callable[[], Engine],
        *,
        doubting_numbers: bool = False,
    ) -> None:
        self.name = first.name
        self._language = grammar.language
        self._numbers = frozenset().union(*(words_of(grammar, rule) for rule in _NUMBERS))
        self._first = first
        self._make = second
        self._made: Engine | None = None
        self._doubting_numbers = doubting_numbers

    def hear(self, samples: Samples, rule: str = "entry") -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz, as phrases of `rule`."""
        hearing = self._first.hear(samples, rule)
        if not self._is_doubtful(hearing):
            return hearing
        if self._made is None:
            self._made = self._make()
        other = self._made.hear(samples, rule)
        return replace(
            hearing, second_opinion=preference(hearing, other), seconds=hearing.seconds + other.seconds
        )

    def _is_doubtful(self, hearing: Hearing) -> bool:
        outcome = decide(hearing, self._language)
        if outcome != "accepted":
            return outcome == "asked"
        if self._numbers.issuperset(hearing.hypotheses[0].text.split()):
            return True
        return self._doubting_numbers and numbers_that_are_misheard(
            hearing.hypotheses[0].meanings, self._language
        )


def preference(hearing: Hearing, other: Hearing) -> float:
    """How much the other listener prefers what the first heard to the best of what else it heard (log, base e)."""
    best = hearing.hypotheses[0].meanings
    ours = [each.log_probability for each in other.hypotheses if each.meanings == best]
    rest = [each.log_probability for each in other.hypotheses if each.meanings != best]
    if not ours:
        return -inf
    return max(ours) - max(rest, default=-inf)
