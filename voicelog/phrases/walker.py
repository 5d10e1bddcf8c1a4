"""Walks the automaton word by word, expanding only what is asked for and keeping what was expanded."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from voicelog.phrases.automaton import Automaton, FragmentKey, Layer, Token
from voicelog.phrases.tags import Close, Frame, Op, Open, Stack, apply

Return = tuple[int, bool, tuple[Op, ...]]
"""Where a rule goes on when one that it refers to is finished: state, whether that had a frame, operations then."""


@dataclass(frozen=True, slots=True)
class Position:
    """A place in the automaton: a state, and where each rule around it goes on (innermost last)."""

    state: int
    returns: tuple[Return, ...] = ()


@dataclass(frozen=True, slots=True)
class Step:
    """One way on: operations and log weight (base e) met before the word, and the position behind it."""

    ops: tuple[Op, ...]
    log_weight: float
    target: Position


@dataclass(frozen=True, slots=True)
class Ways:
    """All ways on from a position: by word, and to the end of the whole rule."""

    by_token: Mapping[Token, tuple[Step, ...]]
    to_end: tuple[Step, ...]


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

    def ways(self, position: Position) -> Ways:
        """What may follow at `position`."""
        if position not in self._known:
            self._known[position] = self._expand(position)
        return self._known[position]

    def may_end(self, position: Position) -> bool:
        """Whether a whole phrase ends here."""
        return bool(self.ways(position).to_end)

    def _expand(self, position: Position) -> Ways:
        by_token: dict[Token, list[Step]] = {}
        to_end: list[Step] = []
        todo: list[Step] = [Step((), 0.0, position)] if position != self.start else self._openings()
        while todo:
            here = todo.pop()
            state = self._automaton.states[here.target.state]
            returns = here.target.returns
            for over in state.words:
                step = Step(
                    here.ops + over.ops, here.log_weight + over.log_weight, Position(over.target, returns)
                )
                by_token.setdefault(over.token, []).append(step)
            for free in state.free:
                weight = here.log_weight + free.log_weight
                todo.append(Step(here.ops + free.ops, weight, Position(free.target, returns)))
            for call in state.calls:
                if call.fragment.layer in self._layers:
                    first, _ = self._automaton.fragments[call.fragment]
                    opened = (Open(call.fragment.rule),) if call.framed else ()
                    inside = Position(first, (*returns, (call.target, call.framed, call.ops)))
                    todo.append(Step(here.ops + opened, here.log_weight + call.log_weight, inside))
            if self._is_last(here.target):
                todo.extend(self._leave(here, to_end))
        return Ways({token: tuple(steps) for token, steps in by_token.items()}, tuple(to_end))

    def _openings(self) -> list[Step]:
        keys = [FragmentKey(rule, Layer.SAID) for rule in self.rule.split()]
        return [Step((Open(key.rule),), 0.0, Position(self._automaton.fragments[key][0])) for key in keys]

    def _is_last(self, position: Position) -> bool:
        return position.state in self._last_states

    @cached_property
    def _last_states(self) -> frozenset[int]:
        return frozenset(last for _, last in self._automaton.fragments.values())

    def _leave(self, here: Step, to_end: list[Step]) -> Sequence[Step]:
        """Go back to where the finished rule was called; the outermost rule ends the phrase."""
        if not here.target.returns:
            to_end.append(Step((*here.ops, Close()), here.log_weight, here.target))
            return ()
        after, framed, then = here.target.returns[-1]
        ops = (*here.ops, Close(), *then) if framed else here.ops + then
        return (Step(ops, here.log_weight, Position(after, here.target.returns[:-1])),)


def run(ops: Sequence[Op], stack: Stack) -> Stack:
    """All operations of a step, in order."""
    for op in ops:
        stack = apply(op, stack)
    return stack
