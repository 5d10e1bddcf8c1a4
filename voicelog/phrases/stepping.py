"""Steps over single words of the grammar, with weights alone: no tags, and no position is expanded as a whole.

What a word leads to inside a rule is the same wherever the rule is referred to, so it is found once and kept. A walk
that tries many words at many places (`nearby.py`) is quick so; what a line says, only the walker can tell.
"""

from collections.abc import Iterable, Iterator, Sequence
from collections.abc import Set as AbstractSet
from functools import cache, lru_cache
from typing import NamedTuple

from voicelog.phrases.automaton import Automaton, FragmentKey, Layer, State, Token
from voicelog.phrases.grammar import Grammar

_MOST_KEPT = 20_000
"""Spots of which what follows is kept: a few lines' worth."""


class Spot(NamedTuple):
    """A place in the grammar: a state, and the states to go on at when the rules around it end (innermost last)."""

    state: int
    returns: tuple[int, ...] = ()


START = Spot(-1)
"""Where every phrase begins."""


class _Inside(NamedTuple):
    """A step over a word inside a rule: its log weight (base e), where it leads to, and what is to be returned to."""

    log_weight: float
    state: int
    returns: tuple[int, ...]


class Stepper:
    """Steps through one rule, or several with a space between, through some layers of the automaton."""

    def __init__(self, automaton: Automaton, rules: Sequence[str], layers: frozenset[Layer]) -> None:
        self._automaton = automaton
        self._layers = layers | {Layer.SAID}
        self._openings = tuple(automaton.fragments[FragmentKey(rule, Layer.SAID)][0] for rule in rules)
        self._last_states = frozenset(last for _, last in automaton.fragments.values())
        self._firsts: dict[int, frozenset[Token]] = {}
        self._leaving: dict[int, float | None] = {}
        self._inside: dict[tuple[int, Token], tuple[_Inside, ...]] = {}
        self._chain = lru_cache(_MOST_KEPT)(self._chained)
        self._words_at = lru_cache(_MOST_KEPT)(self._all_first)

    def over(self, spot: Spot, word: Token) -> Iterator[tuple[float, Spot]]:
        """Where a word leads to, each with its log weight (base e)."""
        if word not in self._words_at(spot):
            return
        for weight, state, returns in self._chain(spot):
            if word in self._first(state):
                for step in self._steps_inside(state, word):
                    yield weight + step.log_weight, Spot(step.state, returns + step.returns)

    def among(self, spot: Spot, words: AbstractSet[Token]) -> frozenset[Token]:
        """Those of some words that may follow."""
        return self._words_at(spot) & words

    def may_go_on(self, spot: Spot, words: AbstractSet[Token], *, to_end: bool) -> bool:
        """Whether one of some words may follow, or the end where `to_end`."""
        if not words.isdisjoint(self._words_at(spot)):
            return True
        return to_end and self.to_end(spot) is not None

    def to_end(self, spot: Spot) -> float | None:
        """The log weight of ending a whole phrase here; None where none ends."""
        total = 0.0
        for state in (spot.state, *reversed(spot.returns)):
            weight = self._leave(state) if state != START.state else None
            if weight is None:
                return None
            total += weight
        return total

    def longest_start(self, line: Iterable[Sequence[Token]]) -> int:
        """How many leading words begin some phrase; each is given as the words that it may be walked over as."""
        return len(self._reached(line))

    def longest_whole(self, line: Iterable[Sequence[Token]]) -> int:
        """How many leading words are the longest whole phrase that the line begins with; 0 when there is none."""
        reached = enumerate(self._reached(line), 1)
        return max(
            (at for at, spots in reached if any(self.to_end(spot) is not None for spot in spots)), default=0
        )

    def _reached(self, line: Iterable[Sequence[Token]]) -> list[frozenset[Spot]]:
        found: list[frozenset[Spot]] = []
        spots = frozenset({START})
        for words in line:
            spots = frozenset(
                target for spot in spots for word in words for _, target in self.over(spot, word)
            )
            if not spots:
                break
            found.append(spots)
        return found

    def _all_first(self, spot: Spot) -> frozenset[Token]:
        """All words that may follow at a spot."""
        return _alike(frozenset[Token]().union(*(self._first(state) for _, state, _ in self._chain(spot))))

    def _chained(self, spot: Spot) -> tuple[tuple[float, int, tuple[int, ...]], ...]:
        """Where a word may follow: at this spot and, where its rule may end, at those around it."""
        state, returns = spot
        if state == START.state:
            return tuple((0.0, opening, ()) for opening in self._openings)
        total = 0.0
        found = [(total, state, returns)]
        while returns and (weight := self._leave(state)) is not None:
            total += weight
            state, returns = returns[-1], returns[:-1]
            found.append((total, state, returns))
        return tuple(found)

    def _first(self, state: int) -> frozenset[Token]:
        """The words that may follow at a state within its rule."""
        if state not in self._firsts:
            words: set[Token] = set()
            for _, here in self._without_words(state).items():
                words.update(over.token for over in here[1].words)
                for call in here[1].calls:
                    if call.fragment.layer in self._layers:
                        words |= self._first(self._automaton.fragments[call.fragment][0])
            self._firsts[state] = _alike(frozenset(words))
        return self._firsts[state]

    def _leave(self, state: int) -> float | None:
        """The log weight of ending the rule at a state without a word; None where it cannot end."""
        if state not in self._leaving:
            reached = self._without_words(state)
            weights = [weight for each, (weight, _) in reached.items() if each in self._last_states]
            self._leaving[state] = max(weights, default=None)
        return self._leaving[state]

    def _steps_inside(self, state: int, word: Token) -> tuple[_Inside, ...]:
        key = (state, word)
        if key not in self._inside:
            best: dict[tuple[int, tuple[int, ...]], float] = {}
            for weight, target, returns in self._found_inside(state, word):
                best[target, returns] = max(weight, best.get((target, returns), weight))
            self._inside[key] = tuple(_Inside(weight, *where) for where, weight in best.items())
        return self._inside[key]

    def _found_inside(self, state: int, word: Token) -> Iterator[_Inside]:
        for weight, here in self._without_words(state).values():
            for over in here.words:
                if over.token == word:
                    yield _Inside(weight + over.log_weight, over.target, ())
            for call in here.calls:
                if call.fragment.layer in self._layers:
                    first = self._automaton.fragments[call.fragment][0]
                    if word in self._first(first):
                        for step in self._steps_inside(first, word):
                            total = weight + call.log_weight + step.log_weight
                            yield _Inside(total, step.state, (call.target, *step.returns))

    def _without_words(self, start: int) -> dict[int, tuple[float, State]]:
        """The states of a rule that are reached without a word, each with the best log weight of the way there."""
        best = {start: 0.0}
        todo = [start]
        while todo:
            number = todo.pop()
            for target, weight in self._wordless_ways(self._automaton.states[number]):
                total = best[number] + weight
                if total > best.get(target, float("-inf")):
                    best[target] = total
                    todo.append(target)
        return {number: (weight, self._automaton.states[number]) for number, weight in best.items()}

    def _wordless_ways(self, state: State) -> Iterator[tuple[int, float]]:
        for free in state.free:
            yield free.target, free.log_weight
        for call in state.calls:
            if call.fragment.layer in self._layers:
                weight = self._leave(self._automaton.fragments[call.fragment][0])
                if weight is not None:
                    yield call.target, call.log_weight + weight


@cache
def _alike(words: frozenset[Token]) -> frozenset[Token]:
    """The first set that was like this: few differ, and equal ones are kept once."""
    return words


def stepper(grammar: Grammar, rule: str, *layers: Layer) -> Stepper:
    """The stepper of a rule, or of several with a space between; made once and kept."""
    return _stepper(grammar, grammar.named(rule), frozenset(layers))


@cache
def _stepper(grammar: Grammar, rules: tuple[str, ...], layers: frozenset[Layer]) -> Stepper:
    return Stepper(grammar.automaton, rules, layers)
