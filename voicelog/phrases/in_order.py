"""What words can say in several rules that are listened for together: an answer to what is asked goes first."""

from collections.abc import Sequence

from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.matcher import Matcher, Meanings
from voicelog.phrases.plainest import cost

ANSWERS = "answers_"
"""How the names of rules begin that hold the answers to a question."""


class RulesInOrder:
    """Rules of a grammar, named with a space between, the likeliest first."""

    def __init__(self, grammar: Grammar, rule: str, *layers: Layer) -> None:
        self._matchers = {name: Matcher(grammar.walker(name, *layers)) for name in grammar.named(rule)}

    def readings(self, tokens: Sequence[Token]) -> tuple[Meanings, ...]:
        """What the words can say, likeliest first: as an answer, else in the rule that needs the fewest entries."""
        found: list[tuple[Meanings, ...]] = []
        for name, matcher in self._matchers.items():
            readings = matcher.readings(tokens)
            if readings and name.startswith(ANSWERS):
                return readings
            if readings:
                found.append(readings)
        return min(found, key=lambda each: cost(each[0])[0], default=())
