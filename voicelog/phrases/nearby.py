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


class _Prefix(NamedTuple):
    """How a phrase begins: how far the line is walked (None: to the end), its words, and which are the line's own."""

    place: _Place | None
    words: tuple[Token, ...] = ()
    kept: tuple[int, ...] = ()
    change: float = 0.0

    def longer(self, edge: _Edge) -> "_Prefix":
        """With one more way."""
        on = None if edge.target is None else edge.target.place
        words = self.words if edge.word is None else (*self.words, edge.word)
        kept = (*self.kept, self.place.at) if edge.kept and self.place is not None else self.kept
        return _Prefix(on, words, kept, self.change + edge.change)


class _Left(NamedTuple):
    """What it takes at least from a node to the end of a phrase: with the grammar's weight, and by changes alone."""

    cost: float
    change: float


_END = _Left(0.0, 0.0)


def near(stepper: Stepper, tokens: Sequence[Token], changes: Changes) -> Nearby | None:
    """Phrases of a stepper's rule near a line; None when there is none.

    Those whose changes cost at most `slack` more than the least that is needed; among them the weight counts too.
    """
    search = _Search(stepper, tokens, changes)
    least = search.run()
    return None if least is None else Nearby(least, _read_off(search.edges, least + changes.slack))


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
        for word in sorted(self._stepper.among(position, words.keys())):
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


def _read_off(edges: Mapping[_Node, Sequence[_Edge]], most: float) -> Iterator[Near]:
    """The phrases whose changes cost `most` at most, the cheapest first, each once.

    All positions that the same words lead to are followed together.
    """
    left = _left_to_end(edges)
    order = count()
    start = {START: 0.0}
    heap: list[tuple[float, int, _Prefix, dict[Spot, float]]] = [
        (0.0, next(order), _Prefix(_Place(0)), start)
    ]
    told: set[tuple[Token, ...]] = set()
    for _ in range(_MOST_READ_OFF):
        if not heap:
            return
        cost, _, prefix, positions = heappop(heap)
        if prefix.place is None:
            if prefix.words not in told:
                told.add(prefix.words)
                yield Near(cost, prefix.words, prefix.kept)
            continue
        onward: dict[_Prefix, dict[Spot, float]] = {}
        for position, so_far in positions.items():
            for edge in edges[_Node(prefix.place, position)]:
                behind = _END if edge.target is None else left.get(edge.target)
                if behind is not None and prefix.change + edge.change + behind.change <= most:
                    at = START if edge.target is None else edge.target.position
                    reached = onward.setdefault(prefix.longer(edge), {})
                    reached[at] = min(so_far + edge.cost, reached.get(at, float("inf")))
        for longer, reached in onward.items():
            heappush(heap, (_total(longer, reached, left), next(order), longer, reached))


def _total(prefix: _Prefix, reached: Mapping[Spot, float], left: Mapping[_Node, _Left]) -> float:
    """What the cheapest phrase that begins so costs."""
    if prefix.place is None:
        return min(reached.values())
    return min(cost + left[_Node(prefix.place, spot)].cost for spot, cost in reached.items())


def _left_to_end(edges: Mapping[_Node, Sequence[_Edge]]) -> dict[_Node, _Left]:
    """What is left to the end of a phrase, for every node from which one can get there."""
    left: dict[_Node, _Left] = {}
    for node in _last_first(edges):
        ways = [
            (edge, _END if edge.target is None else left[edge.target])
            for edge in edges[node]
            if edge.target is None or edge.target in left
        ]
        if ways:
            cost = min(edge.cost + behind.cost for edge, behind in ways)
            left[node] = _Left(cost, min(edge.change + behind.change for edge, behind in ways))
    return left


def _last_first(nodes: Iterable[_Node]) -> list[_Node]:
    """Every edge leads on in the line, or to where a word has been put in."""
    return sorted(nodes, key=lambda node: (node.place.at, node.place.changed), reverse=True)
