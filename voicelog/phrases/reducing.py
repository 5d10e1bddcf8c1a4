"""Makes a compiled automaton small: places that nothing hangs on are left out, and ways that are alike become one.

All rules end in one state: which rule is finished, the references that led into it tell. So what goes on alike is one,
in whichever rules it stands. Nothing that can be said, nor its tags, nor its weight changes.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import takewhile
from math import exp, log
from operator import is_

from voicelog.phrases.states import ANY_WORD, Arc, Call, FragmentKey, Free, Over, State
from voicelog.phrases.tags import Add, Op, SetField, SetValue

Ends = Mapping[FragmentKey, tuple[int, int]]


def reduced(states: list[State], ends: Ends) -> tuple[tuple[State, ...], dict[FragmentKey, tuple[int, int]]]:
    """The same network with fewer states, numbered anew; first and last state of a fragment stay its own."""
    network = _Network(states, ends)
    size = -1
    while size != network.size:
        size = network.size
        network.begin_alike()
        network.merge_endings()
    while network.tags_forward():
        network.merge_endings()
    return network.numbered(), network.ends_anew()


class _Network:
    def __init__(self, states: list[State], ends: Ends) -> None:
        self._states = states
        _, self._last = next(iter(ends.values()))
        self._ends = {key: (first, self._last) for key, (first, _) in ends.items()}
        self._fixed = {self._last, *(first for first, _ in ends.values())}
        self._known: list[int] | None = None  # what is reached, until an arc is changed
        self._rename({last: self._last for _, last in ends.values()})

    @property
    def size(self) -> int:
        return len(self._reached())

    def begin_alike(self) -> None:
        """As much as can be is one before endings are: what two ways lead to has no beginning of its own."""
        size = -1
        while size != self.size:
            size = self.size
            self.pass_through()
            self.take_in()
            self.merge_beginnings()

    def pass_through(self) -> None:
        """A state with one free arc alone is left out: what leads to it leads on, with the arc's tags and weight."""
        only = {
            number: state.free[0]
            for number, state in self._free_states()
            if len(state.free) == 1 and not state.words and not state.calls and state.free[0].target != number
        }

        def onwards(arc: Arc) -> Arc:
            seen = set()
            while arc.target in only and arc.target not in seen:
                seen.add(arc.target)
                free = only[arc.target]
                arc = arc._replace(
                    target=free.target,
                    ops=arc.ops + free.ops,
                    log_weight=_rounded(arc.log_weight + free.log_weight),
                )
            return arc

        self._change(onwards)

    def merge_endings(self) -> None:
        """States from which all goes on alike are one."""
        to: dict[int, int] = {0: 0}
        while to:
            known: dict[frozenset[Arc], int] = {}
            to = {}
            for number, state in self._free_states():
                first = known.setdefault(frozenset(state.arcs), number)
                if first != number:
                    to[number] = first
            self._rename(to)

    def tags_forward(self) -> bool:
        """Tags that all ways on begin with are met before the state instead; tells whether any were.

        So ways that differ in their tags alone differ as early as they can, and go on as one: "right eye", "left eye".
        """
        sources: dict[int, set[int]] = {}
        for number in self._reached():
            for arc in self._states[number].arcs:
                sources.setdefault(arc.target, set()).add(number)
        moved = [self._forward(number, sources[number]) for number, _ in self._free_states()]
        return any(moved)

    def _forward(self, number: int, sources: set[int]) -> bool:
        """Moves the tags that all ways on from a state begin with to the ways that lead to it."""
        tags = _common_start([_early_tags(arc) for arc in self._states[number].arcs])
        if not tags or number in sources:
            return False
        leading = [arc for source in sources for arc in self._states[source].arcs if arc.target == number]
        if not all(map(_takes_tags, leading)):
            return False
        self._change(lambda arc: arc._replace(ops=arc.ops[len(tags) :]), number)
        for source in sources:
            self._change(
                lambda arc: arc._replace(ops=arc.ops + tags) if arc.target == number else arc, source
            )
        return True

    def take_in(self) -> None:
        """What hangs on a state that only one free arc leads to hangs on the state before it."""
        ways_in = self._ways_in()
        for number in self._reached():
            state = self._states[number]
            while True:
                inner = next((arc for arc in state.free if self._only_way(arc, number, ways_in)), None)
                if inner is None:
                    break
                self._known = None
                state.free.remove(inner)
                for arc in self._states[inner.target].arcs:
                    weight = _rounded(inner.log_weight + arc.log_weight)
                    more = arc._replace(ops=inner.ops + arc.ops, log_weight=weight)
                    state.add(more)

    def _only_way(self, arc: Free, source: int, ways_in: Mapping[int, int]) -> bool:
        behind = self._states[arc.target]
        if arc.target in self._fixed or ways_in[arc.target] != 1 or arc.target == source:
            return False
        return not arc.ops or not behind.calls  # tags before a reference are not tags behind it

    def merge_beginnings(self) -> None:
        """Arcs of one state that differ in weight alone lead to one state, if each is the only way to what lies behind.

        The one arc is as likely as all of them; what lies behind is by so much less likely.
        """
        ways_in = self._ways_in()
        gone: set[int] = set()
        for number in self._reached():
            if number in gone:
                continue
            alike: dict[Arc, list[Arc]] = {}
            for arc in self._states[number].arcs:
                if ways_in[arc.target] == 1 and arc.target not in self._fixed and arc.target != number:
                    alike.setdefault(arc._replace(target=-1, log_weight=0.0), []).append(arc)
            for arcs in alike.values():
                if len(arcs) > 1:
                    gone |= {arc.target for arc in arcs[1:]}
                    self._merge(number, arcs)

    def _merge(self, number: int, arcs: list[Arc]) -> None:
        """One arc in place of several of a state."""
        self._known = None
        whole = log(sum(exp(arc.log_weight) for arc in arcs))
        joined = State()
        for arc in arcs:
            for behind in self._states[arc.target].arcs:
                joined.add(behind._replace(log_weight=_rounded(behind.log_weight + arc.log_weight - whole)))
        self._states[arcs[0].target] = joined
        here = State()
        for arc in self._states[number].arcs:
            if arc not in arcs:
                here.add(arc)
        here.add(arcs[0]._replace(log_weight=_rounded(whole)))
        self._states[number] = here

    def numbered(self) -> tuple[State, ...]:
        """The states that are left, numbered one after the other."""
        new = self._new_numbers()
        return tuple(
            State(
                [arc._replace(target=new[arc.target]) for arc in state.words],
                [arc._replace(target=new[arc.target]) for arc in state.free],
                [arc._replace(target=new[arc.target]) for arc in state.calls],
            )
            for state in (self._states[number] for number in new)
        )

    def ends_anew(self) -> dict[FragmentKey, tuple[int, int]]:
        """First and last state of each fragment by their new numbers."""
        new = self._new_numbers()
        return {key: (new[first], new[last]) for key, (first, last) in self._ends.items()}

    def _new_numbers(self) -> dict[int, int]:
        return {number: place for place, number in enumerate(sorted(self._reached()))}

    def _reached(self) -> list[int]:
        if self._known is None:
            self._known = self._all_reached()
        return self._known

    def _all_reached(self) -> list[int]:
        todo = sorted(self._fixed)
        found = dict.fromkeys(todo)
        while todo:
            state = self._states[todo.pop()]
            for ways in (state.words, state.free, state.calls):
                for arc in ways:
                    if arc.target not in found:
                        found[arc.target] = None
                        todo.append(arc.target)
        return list(found)

    def _free_states(self) -> Iterator[tuple[int, State]]:
        """The states that are neither first nor last of a fragment."""
        return ((number, self._states[number]) for number in self._reached() if number not in self._fixed)

    def _ways_in(self) -> dict[int, int]:
        ways: dict[int, int] = {}
        for number in self._reached():
            for arc in self._states[number].arcs:
                ways[arc.target] = ways.get(arc.target, 0) + 1
        return ways

    def _change(self, change: Callable[[Arc], Arc], only: int | None = None) -> None:
        for number in self._reached() if only is None else [only]:
            before = self._states[number].arcs
            after = [change(arc) for arc in before]
            if all(map(is_, after, before)):
                continue  # most states: making them anew took half of a start
            self._known = None
            self._states[number] = new_state = State()
            for arc in after:
                new_state.add(arc)

    def _rename(self, to: Mapping[int, int], only: int | None = None) -> None:
        if to:
            self._change(lambda arc: arc._replace(target=to[arc.target]) if arc.target in to else arc, only)


def _early_tags(arc: Arc) -> tuple[Op, ...]:
    """The tags of a way that may as well be met before it: behind a reference, those that its value is nothing to."""
    if not isinstance(arc, Call):
        return arc.ops
    return tuple(takewhile(_needs_no_value, arc.ops)) if arc.framed else ()


def _needs_no_value(op: Op) -> bool:
    match op:
        case SetField(literal=literal):
            return literal is not None
        case Add(_, of_last):
            return not of_last
        case _:
            return isinstance(op, SetValue)


def _takes_tags(arc: Arc) -> bool:
    """Whether tags may join those of a way: any word is joined to the text behind the tags of its way."""
    return not isinstance(arc, Over) or arc.token != ANY_WORD


def _common_start(all_tags: Sequence[tuple[Op, ...]]) -> tuple[Op, ...]:
    first = min(all_tags, key=len, default=())
    same = takewhile(lambda at: all(tags[at] == first[at] for tags in all_tags), range(len(first)))
    return first[: len(list(same))]


def _rounded(log_weight: float) -> float:
    """So that sums of the same weights in another order are the same."""
    return round(log_weight, 9)
