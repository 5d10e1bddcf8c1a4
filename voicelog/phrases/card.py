"""The phrase card: what may be said, rule by rule, from the grammar's own documentation comments."""

from dataclasses import dataclass

from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import Grammar


@dataclass(frozen=True, slots=True)
class CardItem:
    """One rule of the card: its name, what it is for, and examples that are phrases of it."""

    rule: str
    summary: str
    examples: tuple[str, ...]


def phrase_card(grammar: Grammar) -> tuple[CardItem, ...]:
    """The documented rules, entries first, in the order of the grammar files."""
    return tuple(
        CardItem(linked.name, linked.main.summary, linked.main.examples)
        for linked in grammar.rules.values()
        if Layer.SAID in linked.layers and linked.main.summary
    )
