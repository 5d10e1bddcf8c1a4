"""Phrases near a line: one search, in which words may be passed over, changed or put in at a cost.

The search walks pairs of a place in the line and a position in the grammar, the cheapest first. The phrases that it
finds are then read off in the order of their costs, each once.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush
from itertools import count
from typing import NamedTuple

from voicelog.phrases.automaton import OTHER_WORD, Token
from voicelog.phrases.stepping import START, Spot, Stepper

_MOST_SETTLED = 6_000
"""Nodes of the search after which a line has no phrase near it: a bound on its time."""
_MOST_READ_OFF = 2_000

_OTHER_WORDS = frozenset({OTHER_WORD})

Words = Mapping[Token, float]
"""Words of the grammar, each with what it costs to take it."""


@dataclass(frozen=True, slots=True)
class Changes:
    """What may be done to a line, word by word, and what it costs (any unit; `weight` is one of the grammar's, base e).

    `passed` has a cost for each word that may be passed over, `instead` the words that may be taken for one, and
    `between` the words that may be put in before it (one place more: behind the last). Of changes and insertions
    together there is one at most. `of_numbers` marks the words of numbers and signs, `signs` the signs among them.
    `walked_over` has the words of the grammar that each word of the line may be.
    """

    passed: Mapping[int, float]
    walked_over: Sequence[Sequence[Token]]
    of_numbers: Sequence[bool]
    signs: Sequence[bool]
    instead: Mapping[int, Words] = field(default_factory=dict)
    between: Mapping[int, Words] = field(default_factory=dict)
    weight: float = 0.0
    slack: float = 0.0
    most: float = float("inf")


class Near(NamedTuple):
    """A phrase near a line: what it costs with the grammar's weight, its words, and the places of the line's words that
    it keeps.
    """

    cost: float
    words: tuple[Token, ...]
    kept: tuple[int, ...]


class Nearby(NamedTuple):
    """The phrases of a rule near a line, the cheapest first, and the least that changes of the line must cost."""

    least: float
    phrases: Iterator[Near]


class _Place(NamedTuple):
    """Where the search stands in the line.

    `number`: whether the word before is one of a number. `broken`: a word was passed over since, so that no number may
    go on. `changed`: whether a word was changed or put in.
    """

    at: int
    changed: bool = False
    number: bool = False
    broken: bool = False


class _Node(NamedTuple):
    place: _Place
    position: Spot


class _Edge(NamedTuple):
    """A way on: what its change costs, that with the weight of the grammar, the word that is taken (None: one is passed
    over), whether it is the word of the line, and where the way leads (None: to the end).
    """

    change: float
    cost: float
    word: Token | None
    kept: bool
    target: _Node | None


_Prefix = tuple[_Place | None, tuple[Token, ...], tuple[int, ...]]


def near(stepper: Stepper, tokens: Sequence[Token], changes: Changes) -> Nearby | None:
    """Phrases of a stepper's rule near a line; None when there is none.

    Those whose changes cost at most `slack` more than the least that is needed; among them the weight counts too.
    """
    search = _Search(stepper, tokens, changes)
    least = search.run()
    return None if least is None else Nearby(least, _read_off(search.edges))


class _Search:
    """The search for the phrases of one rule that are near one line."""

    def __init__(self, stepper: Stepper, tokens: Sequence[Token], changes: Changes) -> None:
        self._stepper = stepper
        self._tokens = tokens
        self._changes = changes
        self._goes_on: dict[_Node, bool] = {}
        self._ahead = [self._followers(at) for at in range(len(tokens) + 1)]
        self.edges: dict[_Node, list[_Edge]] = {}
        """The ways on from every node that is as near as the cheapest phrase."""

    def run(self) -> float | None:
        """Search; the least that changes must cost, or None when there is no phrase."""
        order = count()
        start = _Node(_Place(0), START)
        heap: list[tuple[float, int, _Node | None]] = [(0.0, next(order), start)]
        best: float | None = None
        known = self.edges
        while heap and len(known) < _MOST_SETTLED:
            cost, _, node = heappop(heap)
            if cost > (self._changes.most if best is None else best + self._changes.slack):
                break
            if node is None:
                best = cost if best is None else best
            elif node not in known:
                known[node] = list(self._edges_of(node))
                for edge in known[node]:
                    if edge.target not in known:
                        heappush(heap, (cost + edge.change, next(order), edge.target))
        return best

    def _followers(self, at: int) -> tuple[frozenset[Token], bool]:
        """The words of the line that may be next at a place, others passed over, and whether it may end there."""
        words: frozenset[Token] = frozenset()
        for place in range(at, len(self._tokens)):
            words |= frozenset(self._changes.walked_over[place])
            if place not in self._changes.passed:
                return words, False
        return words, True

    def _edges_of(self, node: _Node) -> Iterator[_Edge]:
        place, position = node
        if place.at == len(self._tokens):
            log_weight = self._stepper.to_end(position)
            if log_weight is not None:
                yield _Edge(0.0, -self._changes.weight * log_weight, None, False, None)
        else:
            yield from self._over_the_next(node)
        if not place.changed and place.at in self._changes.between:
            on = place._replace(changed=True)
            yield from self._over_others(position, self._changes.between[place.at], on)

    def _over_the_next(self, node: _Node) -> Iterator[_Edge]:
        """Over the next word as it stands, past it, or over another one in its stead."""
        place, position = node
        at, changes = place.at, self._changes
        is_number = changes.of_numbers[at]
        if not (place.broken and is_number and not changes.signs[at]):
            on = place._replace(at=at + 1, number=is_number, broken=False)
            for word in changes.walked_over[at]:
                yield from self._over(position, word, on, taken=self._tokens[at])
        if at in changes.passed and not (place.number and is_number):
            on = place._replace(at=at + 1, broken=place.broken or place.number or is_number)
            yield _Edge(changes.passed[at], changes.passed[at], None, False, _Node(on, position))
        if not place.changed and at in changes.instead:
            yield from self._over_others(position, changes.instead[at], _Place(at + 1, changed=True))

    def _over_others(self, position: Spot, words: Words, on: _Place) -> Iterator[_Edge]:
        for word in self._stepper.among(position, words.keys()):
            for edge in self._over(position, word, on, words[word]):
                if not self._opens_an_aside(edge):
                    yield edge

    def _opens_an_aside(self, edge: _Edge) -> bool:
        """Whether any words may follow: put in, such a word would make a phrase of whatever is written."""
        return edge.target is not None and self._stepper.may_go_on(
            edge.target.position, _OTHER_WORDS, to_end=False
        )

    def _over(
        self, position: Spot, word: Token, on: _Place, cost: float = 0.0, taken: Token | None = None
    ) -> Iterator[_Edge]:
        """The ways over a word that the line can go on behind; `taken` is the word of the line that it stands for."""
        for log_weight, target in self._stepper.over(position, word):
            node = _Node(on, target)
            if self._may_go_on(node):
                total = cost - self._changes.weight * log_weight
                yield _Edge(cost, total, taken or word, taken is not None, node)

    def _may_go_on(self, node: _Node) -> bool:
        """Whether the line can go on at a node; where a word may still be changed, any may follow."""
        if self._changes.instead and not node.place.changed:
            return True
        if node not in self._goes_on:
            words, to_end = self._ahead[node.place.at]
            self._goes_on[node] = self._stepper.may_go_on(node.position, words, to_end=to_end)
        return self._goes_on[node]


def _read_off(edges: Mapping[_Node, Sequence[_Edge]]) -> Iterator[Near]:
    """The phrases, the cheapest first; all positions that the same words lead to are followed together."""
    left = _costs_to_end(edges)
    order = count()
    start = _Node(_Place(0), START)
    heap: list[tuple[float, int, _Prefix, dict[Spot, float]]] = [
        (left.get(start, 0.0), next(order), (start.place, (), ()), {start.position: 0.0})
    ]
    told: set[tuple[Token, ...]] = set()
    for _ in range(_MOST_READ_OFF):
        if not heap:
            return
        cost, _, (place, words, kept), positions = heappop(heap)
        if place is None:
            if words not in told:
                told.add(words)
                yield Near(cost, words, kept)
            continue
        onward: dict[_Prefix, dict[Spot, float]] = {}
        ends: list[float] = []
        for position, so_far in positions.items():
            for edge in edges[_Node(place, position)]:
                if edge.target is None:
                    ends.append(so_far + edge.cost)
                elif edge.target in left:
                    longer = _longer(place, words, kept, edge)
                    reached = onward.setdefault(longer, {})
                    here = so_far + edge.cost
                    reached[edge.target.position] = min(here, reached.get(edge.target.position, here))
        if ends:
            heappush(heap, (min(ends), next(order), (None, words, kept), {}))
        for prefix, reached in onward.items():
            assert prefix[0] is not None
            total = min(cost + left[_Node(prefix[0], position)] for position, cost in reached.items())
            heappush(heap, (total, next(order), prefix, reached))


def _longer(place: _Place, words: tuple[Token, ...], kept: tuple[int, ...], edge: _Edge) -> _Prefix:
    on = None if edge.target is None else edge.target.place
    if edge.word is None:
        return on, words, kept
    return on, (*words, edge.word), (*kept, place.at) if edge.kept else kept


def _costs_to_end(edges: Mapping[_Node, Sequence[_Edge]]) -> dict[_Node, float]:
    """What it costs at least to get to the end of a phrase, for every node from which one can."""
    left: dict[_Node, float] = {}
    for node in _last_first(edges):
        costs = [
            edge.cost + (0.0 if edge.target is None else left[edge.target])
            for edge in edges[node]
            if edge.target is None or edge.target in left
        ]
        if costs:
            left[node] = min(costs)
    return left


def _last_first(nodes: Iterable[_Node]) -> list[_Node]:
    """Every edge leads on in the line, or to where a word has been put in."""
    return sorted(nodes, key=lambda node: (node.place.at, node.place.changed), reverse=True)
