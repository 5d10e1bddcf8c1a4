"""What words can say in several rules that are listened for together: an answer to what is asked goes first.

The one place where that is settled, for what is heard and what is typed.
"""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from voicelog.phrases import meanings as say
from voicelog.phrases.at_odds import is_at_odds
from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.cut_numbers import CutNumbers
from voicelog.phrases.either import Either
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.matcher import Matcher, Meanings
from voicelog.phrases.no_order import NoOrder
from voicelog.phrases.plainest import cost, plainest
from voicelog.phrases.stepping import Stepper, stepper
from voicelog.phrases.word_sets import beside_words, words_of

ANSWERS = "answers_"
"""How the names of rules begin that hold the answers to a question."""


class Found(NamedTuple):
    """What words can say, likeliest first, and the rule that they are a phrase of."""

    readings: tuple[Meanings, ...]
    rule: str

    @property
    def cost(self) -> float:
        """What speaks against it."""
        return cost(self.readings[0])[0]


class RulesInOrder:
    """Rules of a grammar, named with a space between, the likeliest first."""

    def __init__(self, grammar: Grammar, rule: str, *layers: Layer) -> None:
        beside = beside_words(grammar)
        self.matchers: Mapping[str, Matcher] = {
            name: Matcher(grammar.walker(name, *layers), beside) for name in grammar.named(rule)
        }
        self.steppers: Mapping[str, Stepper] = {
            name: stepper(grammar, name, *layers) for name in self.matchers
        }
        self.no_order = NoOrder.of(grammar)
        self._no_note = words_of(grammar, "no_note")
        self._cut_numbers = CutNumbers(grammar)
        self._either = Either(grammar)

    def readings(self, tokens: Sequence[Token]) -> tuple[Meanings, ...]:
        """What the words can say, likeliest first; nothing when they are no phrase of any rule."""
        found = None if self.no_order.is_own_power(tokens) else self.found(tokens)
        return () if found is None else found.readings

    def found(self, tokens: Sequence[Token]) -> Found | None:
        """What the words say as an answer, else in the rule that needs the fewest entries, and then the first named."""
        found: list[Found] = []
        for name in self.matchers:
            if readings := self.said(name, tokens):
                found.append(Found(readings, name))
                if name.startswith(ANSWERS):
                    break
        return min(found, key=lambda each: each.cost, default=None)

    def said(self, rule: str, tokens: Sequence[Token]) -> tuple[Meanings, ...]:
        """What the words can say in one of the rules, likeliest first."""
        found = self._said(rule, tokens)
        others = self._either.readings(tokens, found, lambda words: self._said(rule, words))
        return tuple(_apart((*found, *others)))

    def _said(self, rule: str, tokens: Sequence[Token]) -> tuple[Meanings, ...]:
        every = self.matchers[rule].every_reading(tokens)
        whole = tuple(each for each in every if not self._cut_numbers.are_in(tokens, each))
        return tuple(each for each in plainest(whole) if not self._is_no_note(each) and not is_at_odds(each))

    def _is_no_note(self, reading: Meanings) -> bool:
        """ "Note to self" is none, nor is "make a note of that"."""
        texts = [each.text for each in reading if isinstance(each, say.Note) and each.text]
        return any(text.split()[0] in self._no_note for text in texts)


def _apart(readings: Sequence[Meanings]) -> list[Meanings]:
    """Readings that differ in more than whether a value is meant about so, each once."""
    found: dict[Meanings, Meanings] = {}
    for reading in readings:
        exact = tuple(
            each.model_copy(update={"approximate": False}) if isinstance(each, say.Reading) else each
            for each in reading
        )
        found.setdefault(exact, reading)
    return list(found.values())
