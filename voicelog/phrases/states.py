"""The parts of the network: layers, words, calls and states."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, NamedTuple

from voicelog.phrases.tags import Op


class Layer(StrEnum):
    """Where a rule's text comes from."""

    SAID = "said"
    WRITTEN = "written"
    HEARD = "heard"
    TYPED = "typed"


class Token(NamedTuple):
    """One word of a line; `joined` when no space stands before it (the 2 in "+2", the 's in "it's")."""

    text: str
    joined: bool = False


ANY_WORD = Token("...")
"""Stands for every word, in the typed layer alone."""

OTHER_WORD = Token("..")
"""Stands, in the typed layer alone, for every word that tells nothing: none of the words of the rule `telling`."""


@dataclass(frozen=True, slots=True)
class FragmentKey:
    """A rule in one layer; `joined` when it continues a number already begun."""

    rule: str
    layer: Layer
    joined: bool = False


class Over(NamedTuple):
    """A way over one word, with the operations behind it and its log weight (base e)."""

    token: Token
    target: int
    ops: tuple[Op, ...] = ()
    log_weight: float = 0.0


class Call(NamedTuple):
    """A reference: walk `fragment`, run `ops`, and go on at `target`.

    With `framed` the fragment's tags have a frame of their own; without, it is another way to say the same rule.
    """

    fragment: FragmentKey
    target: int
    framed: bool
    ops: tuple[Op, ...] = ()
    log_weight: float = 0.0


class Free(NamedTuple):
    """A way without a word."""

    target: int
    ops: tuple[Op, ...] = ()
    log_weight: float = 0.0


Arc = Over | Call | Free


@dataclass(slots=True)
class State:
    """The ways on from one place."""

    words: list[Over] = field(default_factory=list)
    free: list[Free] = field(default_factory=list)
    calls: list[Call] = field(default_factory=list)
    _by_word: dict[Token, list[Over]] | None = field(default=None, init=False, repr=False, compare=False)

    def over(self, token: Token) -> Sequence[Over]:
        """The ways over one word. Asked for the first time, all are put in order: a state may have hundreds."""
        if self._by_word is None:
            by_word: dict[Token, list[Over]] = {}
            for each in self.words:
                by_word.setdefault(each.token, []).append(each)
            self._by_word = by_word  # whole at once: other threads walk here too
        return self._by_word.get(token, ())

    @property
    def arcs(self) -> tuple[Arc, ...]:
        """All ways on."""
        return (*self.words, *self.free, *self.calls)

    def add(self, arc: Arc) -> None:
        """One more way on, if it is not there yet."""
        ways: list[Any] = (
            self.words if isinstance(arc, Over) else self.calls if isinstance(arc, Call) else self.free
        )
        if arc not in ways:
            ways.append(arc)
