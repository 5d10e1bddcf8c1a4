"""The grammar as a recogniser of words walks it: from a set of places, by a word, to a set of places.

A set of places stands for all ways of the grammar that the same words may have gone, each with how much less likely it
is than the best of them. So a line of words is in one set only, however many rules it may belong to. Sets are made
when a search gets to them, and kept. What lies behind a finished rule is the same for all that end there: it is kept
once.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from voicelog.hearing.engines.letter_tree import Floats, Integers, LetterTree
from voicelog.hearing.engines.sparse_rows import SparseRows
from voicelog.phrases.automaton import Call, FragmentKey, Layer, Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.walker import Position

_GRAIN = 0.25
"""Weights of a set are rounded to this, so that sets that differ by less are one."""
_MOST_SETS = 1000
_MOST_PLACES = 40_000
_ROWS = 2 * _MOST_SETS
"""Room for sets: what is not used yet takes no memory, and to make room for more copies all that there is."""


@dataclass(slots=True)
class _Near:
    """The ways over a word from a state, without leaving its rule: the same for all places there.

    Words (n,), in order, and their log weights; where they lead to, each a state and the references gone into on the
    way. `leaving`: where the rule may end, as log weights and the references gone into.
    """

    words: Integers
    weights: Floats
    targets: tuple[Position, ...]
    leaving: tuple[tuple[float, Position], ...]
    by_word: dict[int, list[int]]

    def over(self, word: int) -> Sequence[int]:
        """Which of them are over a word."""
        if not self.by_word and len(self.words):
            by_word: dict[int, list[int]] = {}
            for at, each in enumerate(self.words.tolist()):
                by_word.setdefault(each, []).append(at)
            self.by_word = by_word
        return self.by_word.get(word, ())


@dataclass(slots=True)
class _Place:
    """A state as it is reached through some references: its ways, and what lies behind its rule.

    `behind` are the places where a rule that ends here was referred to; `end` the log weight of the end of the phrase.
    """

    near: _Near
    returns: tuple[int, ...]
    behind: list[tuple[int, float]]
    end: float


@dataclass(slots=True)
class _Flat:
    """A place with all that lies behind it: the places that have words, with log weights, and the end's log weight."""

    places: dict[int, float]
    end: float


@dataclass(slots=True)
class _Set:
    """Places (n,) with log weights (n,), the best of them 0; `end`: that of ending here.

    `after` is filled as it is asked for.
    """

    places: Integers
    weights: Floats
    end: float
    after: dict[int, tuple[int, float]] = field(default_factory=dict)


def tokens_of(grammar: Grammar, layers: Iterable[Layer]) -> LetterTree:
    """The words of some layers of a grammar."""
    wanted = frozenset(layers)
    states = grammar.automaton.states
    found: set[Token] = set()
    for key, (first, _) in grammar.automaton.fragments.items():
        if key.layer not in wanted:
            continue
        todo, seen = [first], {first}
        while todo:
            state = states[todo.pop()]
            found.update(over.token for over in state.words)
            fresh = {arc.target for arc in state.arcs} - seen
            seen |= fresh
            todo.extend(fresh)
    return LetterTree(found)


class WordNetwork:
    """Sets of places of one grammar, seen through some of its layers, by number.

    `ahead`, a row for each set and a column for each of the tree, has the log weight of the best word that each column
    may lead to.
    """

    def __init__(self, grammar: Grammar, *layers: Layer) -> None:
        self._grammar = grammar
        self._layers = frozenset((Layer.SAID, *layers))
        self._automaton = grammar.automaton
        self._last_states = frozenset(last for _, last in self._automaton.fragments.values())
        self.tree = tokens_of(grammar, self._layers)
        self._calls: list[Call] = []
        self._call_numbers: dict[Call, int] = {}
        self._near: dict[int, _Near] = {}
        self._forget()

    def _forget(self) -> None:
        self._positions: list[Position] = []
        self._position_numbers: dict[Position, int] = {}
        self._known: dict[int, _Place] = {}
        self._flat: dict[int, _Flat] = {}
        self._sets: list[_Set] = []
        self._set_numbers: dict[tuple[bytes, bytes, float], int] = {}
        self._starts: dict[str, int] = {}
        self.ahead = SparseRows(self.tree.column + 1, _ROWS)

    def start(self, rule: str) -> int:
        """The set where phrases of a rule, or of several with a space between, begin.

        When much is kept already, all is forgotten first: numbers from before are then worth nothing.
        """
        if len(self._sets) > _MOST_SETS or len(self._positions) > _MOST_PLACES:
            self._forget()
        if rule not in self._starts:
            self._grammar.walker(rule)  # refuses rules that there are not
            found: dict[int, float] = {}
            for name in self._grammar.named(rule):
                first, _ = self._automaton.fragments[FragmentKey(name, Layer.SAID)]
                for place, weight in self._flatten(self._numbered(Position(first))).places.items():
                    found[place] = max(weight, found.get(place, -np.inf))
            self._starts[rule], _ = self._set_of(found, -np.inf)
        return self._starts[rule]

    def after(self, number: int, word: int) -> tuple[int, float]:
        """The set behind a word that may follow (`ahead` says which do), and what the way to it adds to the weight."""
        here = self._sets[number]
        if word not in here.after:
            here.after[word] = self._behind(here, word)
        return here.after[word]

    def end(self, number: int) -> float:
        """Log weight of ending the phrase in this set; minus infinity where it may not."""
        return self._sets[number].end

    def closing(self, number: int) -> float:
        """How much likelier the grammar makes it that a phrase ends in this set than that any one word follows."""
        return self._sets[number].end - float(self.ahead.row(number).max())

    def _behind(self, here: _Set, word: int) -> tuple[int, float]:
        found: dict[int, float] = {}
        end = over = -np.inf
        for place, weight in zip(here.places.tolist(), here.weights.tolist(), strict=True):
            ways = self._place(place)
            for at in ways.near.over(word):
                so_far = weight + float(ways.near.weights[at])
                over = max(over, so_far)
                state, inside = ways.near.targets[at]
                flat = self._flatten(self._numbered(Position(state, ways.returns + inside)))
                end = max(end, so_far + flat.end)
                for target, further in flat.places.items():
                    found[target] = max(so_far + further, found.get(target, -np.inf))
        target, best = self._set_of(found, end)
        return target, best - over

    def _set_of(self, places: dict[int, float], end: float) -> tuple[int, float]:
        """The set of these places, and the weight of the best of them, which counts as 0 in the set."""
        best = max(end, *places.values()) if places else end
        numbers = np.array(sorted(places), np.int32)
        weights = np.array([_rounded(places[place] - best) for place in numbers.tolist()], np.float32)
        ending = _rounded(end - best) if end > -np.inf else end
        key = (numbers.tobytes(), weights.tobytes(), ending)
        if key not in self._set_numbers:
            self._set_numbers[key] = len(self._sets)
            kept = (np.frombuffer(key[0], np.int32), np.frombuffer(key[1], np.float32))
            self._sets.append(_Set(*kept, ending))
            self._weigh(self._sets[-1])
        return self._set_numbers[key], best

    def _weigh(self, here: _Set) -> None:
        weights = np.full(len(self.tree.tokens), -np.inf, np.float32)
        for place, weight in zip(here.places.tolist(), here.weights, strict=True):
            ways = self._place(place).near
            np.maximum.at(weights, ways.words, ways.weights + weight)
        self.ahead.append(self.tree.columns(weights))

    def _numbered(self, position: Position) -> int:
        if position not in self._position_numbers:
            self._position_numbers[position] = len(self._positions)
            self._positions.append(position)
        return self._position_numbers[position]

    def _flatten(self, number: int) -> _Flat:
        if number not in self._flat:
            own = self._place(number)
            places = {number: 0.0} if len(own.near.words) else {}
            end = own.end
            for outer, weight in own.behind:
                further = self._flatten(outer)
                end = max(end, weight + further.end)
                for place, more in further.places.items():
                    places[place] = max(weight + more, places.get(place, -np.inf))
            self._flat[number] = _Flat(places, end)
        return self._flat[number]

    def _place(self, number: int) -> _Place:
        if number not in self._known:
            self._known[number] = self._expanded(self._positions[number])
        return self._known[number]

    def _expanded(self, position: Position) -> _Place:
        near = self._near_to(position.state)
        behind: dict[int, float] = {}
        end = -np.inf
        for so_far, (_, inside) in near.leaving:
            if returns := position.returns + inside:
                *outer, call = returns
                back = self._numbered(Position(self._calls[call].target, tuple(outer)))
                behind[back] = max(so_far, behind.get(back, -np.inf))
            else:
                end = max(end, so_far)
        return _Place(near, position.returns, list(behind.items()), end)

    def _near_to(self, state: int) -> _Near:
        if state not in self._near:
            self._near[state] = self._found_near(state)
        return self._near[state]

    def _found_near(self, start: int) -> _Near:
        ways: list[tuple[int, float, Position]] = []
        leaving: list[tuple[float, Position]] = []
        todo = [(Position(start), 0.0)]
        while todo:
            here, so_far = todo.pop()
            state = self._automaton.states[here.state]
            for over in state.words:
                word = self.tree.number.get(over.token)
                if word is not None:
                    ways.append((word, so_far + over.log_weight, Position(over.target, here.returns)))
            todo += [(Position(free.target, here.returns), so_far + free.log_weight) for free in state.free]
            todo += [
                (self._inside(call, here), so_far + call.log_weight)
                for call in state.calls
                if call.fragment.layer in self._layers
            ]
            if here.state in self._last_states:
                leaving.append((so_far, here))
        ways.sort()
        words, weights, targets = zip(*ways, strict=True) if ways else ((), (), ())
        return _Near(
            np.array(words, np.int32), np.array(weights, np.float32), tuple(targets), tuple(leaving), {}
        )

    def _inside(self, call: Call, here: Position) -> Position:
        if call not in self._call_numbers:
            self._call_numbers[call] = len(self._calls)
            self._calls.append(call)
        first, _ = self._automaton.fragments[call.fragment]
        return Position(first, (*here.returns, self._call_numbers[call]))


def _rounded(weight: float) -> float:
    return round(weight / _GRAIN) * _GRAIN
