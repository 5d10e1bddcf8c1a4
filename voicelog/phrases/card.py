"""The phrase card: what may be said, rule by rule, from the grammar's own documentation comments."""

from dataclasses import dataclass

from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import Grammar


@dataclass(frozen=True, slots=True)
class CardItem:
    """One rule of the card: its name, what it is for, and examples that are phrases of it.

    `page` 1 is all that everyone needs; what is needed now and then is on page 2.
    """

    rule: str
    summary: str
    examples: tuple[str, ...]
    page: int


def phrase_card(grammar: Grammar) -> tuple[CardItem, ...]:
    """The documented rules: the first page as the grammar numbers it, then the rest in the order of its files."""
    rules = [
        linked.main
        for linked in grammar.rules.values()
        if Layer.SAID in linked.layers and linked.main.summary
    ]
    first = sorted((rule for rule in rules if rule.foremost), key=lambda rule: rule.foremost)
    rest = [rule for rule in rules if not rule.foremost]
    return tuple(
        CardItem(rule.name, rule.summary, rule.examples, page)
        for page, listed in ((1, first), (2, rest))
        for rule in listed
    )
