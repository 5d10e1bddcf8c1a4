"""Walks the automaton word by word, expanding only what is asked for and keeping what was expanded.

What is met on the way from a state to the words that may follow is the same wherever its rule is referred to: it is
found once a state, and a step is made of it for a word that is asked for. From one place hundreds of words may follow,
of which a line says one.
"""

import math
from array import array
from collections.abc import Iterator, Mapping, Sequence
from functools import cached_property
from typing import NamedTuple

from voicelog.phrases.automaton import Automaton, Call, FragmentKey, Layer, State, Token
from voicelog.phrases.states import Over
from voicelog.phrases.tags import Close, Frame, Op, Open, Stack, apply

_MOST_KNOWN = 2000
"""Positions whose ways are kept, about 3 kB each; then all are expanded anew."""


class Position(NamedTuple):
    """A place in the automaton: a state, and the references that lead to it by their numbers (innermost last)."""

    state: int
    returns: tuple[int, ...] = ()


class Step(NamedTuple):
    """One way on: operations and log weight (base e) met before the word, and the position behind it."""

    ops: tuple[Op, ...]
    log_weight: float
    target: Position


class Behind(NamedTuple):
    """The ways on from where a finished rule was referred to, with what is met on the way there."""

    ops: tuple[Op, ...]
    log_weight: float
    target: Position
    ways: "Ways"

    def led_to(self, step: Step) -> Step:
        """A step of those ways, from here."""
        return Step(self.ops + step.ops, self.log_weight + step.log_weight, step.target)


class Ways:
    """All ways on from a position: by word, and to the end of the whole rule.

    What lies behind a rule that ends here is the same for many positions: it is kept once, and put together when
    asked for.
    """

    def __init__(
        self,
        near: "_Near",
        returns: tuple[int, ...],
        to_end: Sequence[Step],
        behind: Sequence[Behind],
    ) -> None:
        self._near = near
        self._returns = returns
        self._ends = to_end
        self._behind = behind
        self._over: dict[Token, tuple[Step, ...]] = {}
        self.to_end: tuple[Step, ...] = (
            *to_end,
            *(each.led_to(step) for each in behind for step in each.ways.to_end),
        )

    def over(self, token: Token) -> tuple[Step, ...]:
        """The steps over one word."""
        if token not in self._over:
            own = (self._from_here(each) for each in self._near.over(token))
            further = (each.led_to(step) for each in self._behind for step in each.ways.over(token))
            self._over[token] = (*own, *further)
        return self._over[token]

    def _from_here(self, way: "_Reached") -> Step:
        return Step(way.ops, way.log_weight, Position(way.state, self._returns + way.inside))

    @cached_property
    def parts(self) -> tuple["Ways", ...]:
        """These ways and all that lie behind, each once: many positions share what lies behind."""
        found: dict[Ways, None] = {self: None}
        for each in self._behind:
            found.update(dict.fromkeys(each.ways.parts))
        return tuple(found)

    @property
    def choices(self) -> list[tuple[Token | None, "Step | Behind"]]:
        """The steps of this part by their words (None: to the end), and the parts behind it."""
        found: list[tuple[Token | None, Step | Behind]] = [(None, each) for each in self._ends]
        found += ((None, each) for each in self._behind)
        found += ((token, step) for token, steps in self.own.items() for step in steps)
        return found

    @cached_property
    def weights(self) -> "array[float]":
        """What each of the choices weighs, in their order."""
        return array(
            "d",
            (
                math.exp(each.log_weight) * (each.ways.weight if isinstance(each, Behind) else 1.0)
                for _, each in self.choices
            ),
        )

    @cached_property
    def weight(self) -> float:
        """What all these ways weigh together: one, where a grammar's weights are shares."""
        return math.fsum(self.weights)

    @cached_property
    def own(self) -> Mapping[Token, Sequence[Step]]:
        """The steps that no other part has. Whoever asks for all has them kept."""
        return {token: [self._from_here(each) for each in ways] for token, ways in self._near.all().items()}

    @property
    def targets(self) -> Mapping[Token, frozenset[Position]]:
        """Where each word that may follow leads to. Put together anew each time: kept, it would fill the memory."""
        found: dict[Token, set[Position]] = {}
        for part in self.parts:
            for token, steps in part.own.items():
                found.setdefault(token, set()).update(step.target for step in steps)
        return {token: frozenset(targets) for token, targets in found.items()}

    @property
    def by_token(self) -> Mapping[Token, tuple[Step, ...]]:
        """All steps, word by word."""
        return {token: self.over(token) for token in self.targets}


class _Reached(NamedTuple):
    """A state, and what is met on the way to it from another of the same rule: operations and log weight (base e).

    `inside` are the references gone into on the way, by their numbers.
    """

    ops: tuple[Op, ...]
    log_weight: float
    state: int
    inside: tuple[int, ...]


class _Near:
    """What is reached from a state without a word, and over one: the same for all positions there."""

    def __init__(self, states: Sequence[State], reached: tuple[_Reached, ...], last: frozenset[int]) -> None:
        self._states = states
        self._reached = reached
        self._known: dict[Token, tuple[_Reached, ...]] = {}
        self.leaving = tuple(each for each in reached if each.state in last)
        """Where a rule may end."""

    def over(self, token: Token) -> tuple[_Reached, ...]:
        """Where a word leads to."""
        found = self._known.get(token)
        if found is None:
            found = self._known[token] = tuple(self._after(token))
        return found

    def _after(self, token: Token) -> Iterator[_Reached]:
        for here in self._reached:
            for over in self._states[here.state].over(token):
                yield _led(here, over)

    def all(self) -> dict[Token, list[_Reached]]:
        """Where each word leads to that may follow."""
        found: dict[Token, list[_Reached]] = {}
        for here in self._reached:
            for over in self._states[here.state].words:
                found.setdefault(over.token, []).append(_led(here, over))
        return found


def _led(here: _Reached, over: Over) -> _Reached:
    return _Reached(here.ops + over.ops, here.log_weight + over.log_weight, over.target, here.inside)


class Walker:
    """Positions of one rule of the automaton, or of several (with a space between), seen through some of its layers."""

    start = Position(-1)
    """Where every phrase begins."""

    start_stack: Stack = (Frame(""),)
    """The stack before the first word: an outermost frame that receives the rule's value."""

    def __init__(self, automaton: Automaton, rule: str, layers: frozenset[Layer]) -> None:
        self._automaton = automaton
        self._layers = layers | {Layer.SAID}
        self.rule = rule
        self._known: dict[Position, Ways] = {}
        self._known_near: dict[int, _Near] = {}
        self._calls: list[Call] = []
        self._numbers: dict[Call, int] = {}

    def ways(self, position: Position) -> Ways:
        """What may follow at `position`."""
        found = self._known.get(position)
        if found is None:
            if len(self._known) >= _MOST_KNOWN:
                self._known.clear()
            found = self._known[position] = self._expand(position)
        return found

    def may_end(self, position: Position) -> bool:
        """Whether a whole phrase ends here."""
        return bool(self.ways(position).to_end)

    def _expand(self, position: Position) -> Ways:
        near, returns = self._near(position.state), position.returns
        to_end: list[Step] = []
        behind: list[Behind] = []
        for each in near.leaving:
            here = Step(each.ops, each.log_weight, Position(each.state, returns + each.inside))
            self._leave(here, behind, to_end)
        return Ways(near, returns, to_end, behind)

    def _near(self, state: int) -> _Near:
        if state not in self._known_near:
            reached = tuple(self._reached_from(state))
            self._known_near[state] = _Near(self._automaton.states, reached, self._last_states)
        return self._known_near[state]

    def _reached_from(self, start: int) -> Iterator[_Reached]:
        todo = [_Reached((), 0.0, start, ())] if start != self.start.state else self._openings()
        while todo:
            here = todo.pop()
            yield here
            state = self._automaton.states[here.state]
            for free in state.free:
                weight = here.log_weight + free.log_weight
                todo.append(_Reached(here.ops + free.ops, weight, free.target, here.inside))
            for call in state.calls:
                if call.fragment.layer in self._layers:
                    first, _ = self._automaton.fragments[call.fragment]
                    opened = (Open(call.fragment.rule),) if call.framed else ()
                    weight = here.log_weight + call.log_weight
                    inside = (*here.inside, self._number(call))
                    todo.append(_Reached(here.ops + opened, weight, first, inside))

    def _number(self, call: Call) -> int:
        if call not in self._numbers:
            self._numbers[call] = len(self._calls)
            self._calls.append(call)
        return self._numbers[call]

    def _openings(self) -> list[_Reached]:
        keys = [FragmentKey(rule, Layer.SAID) for rule in self.rule.split()]
        return [_Reached((Open(key.rule),), 0.0, self._automaton.fragments[key][0], ()) for key in keys]

    @cached_property
    def _last_states(self) -> frozenset[int]:
        return frozenset(last for _, last in self._automaton.fragments.values())

    def _leave(self, here: Step, behind: list[Behind], to_end: list[Step]) -> None:
        """Go on where the finished rule was referred to; the outermost rule ends the phrase."""
        *outer, number = here.target.returns or (-1,)
        if number < 0:
            to_end.append(Step((*here.ops, Close()), here.log_weight, here.target))
            return
        call = self._calls[number]
        ops = (*here.ops, Close(), *call.ops) if call.framed else here.ops + call.ops
        target = Position(call.target, tuple(outer))
        behind.append(Behind(ops, here.log_weight, target, self.ways(target)))


def run(ops: Sequence[Op], stack: Stack) -> Stack:
    """All operations of a step, in order. Raises TwoValuesError."""
    for op in ops:
        stack = apply(op, stack)
    return stack
