"""What a line names that is no phrase: an eye, a lens, a distance. What was so named is in doubt from there on."""

from collections.abc import Sequence
from typing import NamedTuple

from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.in_order import RulesInOrder
from voicelog.phrases.word_sets import WordSets, words_of


class HalfSaid(NamedTuple):
    """What a line names that says nothing otherwise: an eye at its start, and whether it named a lens or a distance."""

    eye: say.Eye | None
    lens: bool
    distance: bool


_LONGEST_DISTANCE = 7
"""Words of a phrase of a distance: "I'm about at sixty six", where "I'm" is two."""

NOTHING_NAMED = HalfSaid(None, lens=False, distance=False)


class Names:
    """Finds what lines name, whatever they say of it: "left eye, he looks away", "that cylinder to a half"."""

    def __init__(self, grammar: Grammar, rules: RulesInOrder, sets: WordSets) -> None:
        self._rules = rules
        self._sets = sets
        self._of_lenses = words_of(grammar, "of_lenses")
        self._of_distances = words_of(grammar, "of_distances")
        self._first_person = words_of(grammar, "first_person")
        self._number_goes_on = words_of(grammar, "number_goes_on")

    def in_line(self, tokens: Sequence[Token]) -> HalfSaid:
        """What the words of a line name."""
        return HalfSaid(self._eye(tokens), self._lens(tokens), self._distance(tokens))

    def _distance(self, tokens: Sequence[Token]) -> bool:
        """Whether a line has a word of distances and a number, or somebody says in it how far he is ("I'm at forty").

        "At forty" alone may be a time or a price.
        """
        numbers = [self._sets.of_number(token) for token in tokens]
        if any(numbers) and any(token.text in self._of_distances for token in tokens):
            return True
        ends = [
            at + 1 for at, is_number in enumerate(numbers) if is_number and not any(numbers[at + 1 : at + 2])
        ]
        return any(
            self._is_distance(tokens[start:end])
            for end in ends
            for start in range(max(0, end - _LONGEST_DISTANCE), end - 1)
            if tokens[start].text in self._first_person
        )

    def _is_distance(self, tokens: Sequence[Token]) -> bool:
        found = self._rules.found(tokens)
        return found is not None and all(isinstance(one, say.WorkingDistance) for (one, *_) in found.readings)

    def _eye(self, tokens: Sequence[Token]) -> say.Eye | None:
        """The eye that a line names at its start.

        A single word names one only where the line tells something more ("left, plus one and"): it has other senses.
        """
        words = self._sets.walked_over(tokens)
        for rule, stepper in self._rules.steppers.items():
            whole = stepper.longest_whole(words)
            if whole > 1 or any(self._sets.of_number(token) for token in tokens[whole:]):
                for reading in self._rules.said(rule, tokens[:whole])[:1]:
                    named = [each for each in reading if isinstance(each, say.Eye)]
                    if named:
                        return named[-1]
        return None

    def _lens(self, tokens: Sequence[Token]) -> bool:
        """Whether a line names a power with its sign, or a lens and a number."""
        small = self._sets.idle | self._number_goes_on
        many = sum(self._sets.of_number(token) and token.text not in small for token in tokens)
        signs = sum(self._sets.is_sign(token) for token in tokens)
        return many > signs and (signs > 0 or any(token.text in self._of_lenses for token in tokens))
