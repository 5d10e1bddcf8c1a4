"""Which words of a rule may stand beside each other: all that a recogniser of word pairs can be told of a grammar.

Worked out rule by rule, each once (a reference counts as its first and last words), so that it stays quick where the
phrases themselves are too many to be listed.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from voicelog.phrases.automaton import Automaton, FragmentKey, Layer, State
from voicelog.phrases.grammar import LINE_RULE, WHOLE_LINES, Grammar

_BEGIN = ""  # stands before the first word; no word of a grammar is empty


@dataclass(frozen=True, slots=True)
class Neighbours:
    """The words a phrase may begin and end with, and the pairs of words that may follow each other."""

    first: frozenset[str]
    last: frozenset[str]
    pairs: frozenset[tuple[str, str]]

    @property
    def words(self) -> frozenset[str]:
        """Every word of the rule."""
        return self.first | self.last | {word for pair in self.pairs for word in pair}

    def only(self, known: frozenset[str]) -> "Neighbours":
        """What is left when the other words cannot be heard."""
        pairs = frozenset(pair for pair in self.pairs if known.issuperset(pair))
        return Neighbours(self.first & known, self.last & known, pairs)

    def covering_phrases(self) -> tuple[str, ...]:
        """Lines that hold every pair, every first word and every last word, and none that is not allowed.

        Each line is as short as it can be. As a whole it need not be a phrase: it is one pair by pair.
        """
        after: dict[str, list[str]] = {}
        before: dict[str, list[str]] = {}
        for one, other in sorted(self.pairs):
            after.setdefault(one, []).append(other)
            before.setdefault(other, []).append(one)
        lead_in = _paths(sorted(self.first), after)
        lead_out = _paths(sorted(self.last), before)
        lines = dict.fromkeys(word for word in sorted(self.first) if word in self.last)
        covered: set[tuple[str, str]] = set()
        for one, other in sorted(self.pairs):
            if (one, other) in covered or one not in lead_in or other not in lead_out:
                continue
            line = [*lead_in[one], *reversed(lead_out[other])]
            covered.update(pairwise(line))
            lines[" ".join(line)] = None
        return tuple(lines)


def _paths(starts: Iterable[str], arrows: dict[str, list[str]]) -> dict[str, tuple[str, ...]]:
    """The shortest way from any of `starts` to each word that can be got to, with both ends."""
    found: dict[str, tuple[str, ...]] = {word: (word,) for word in starts}
    todo = list(found)
    for word in todo:
        for target in arrows.get(word, ()):
            if target not in found:
                found[target] = (*found[word], target)
                todo.append(target)
    return found


def neighbours(grammar: Grammar, rule: str) -> Neighbours:
    """The neighbours in the said layer of a rule, or of several with a space between.

    For whole lines, those of the rules that the language names for it: of all that a line may hold nearly every word
    may follow nearly every other, and such pairs tell a recogniser nothing. Raises UnknownRuleError when there is no
    such rule to be said.
    """
    grammar.walker(rule)
    summaries = _summaries(grammar)
    names = grammar.named(rule)
    if grammar.language.word_pairs and LINE_RULE in names:
        names = (*grammar.language.word_pairs, *(name for name in names if name not in WHOLE_LINES))
    found = [summaries.of(FragmentKey(name, Layer.SAID)).neighbours for name in names]
    return Neighbours(
        frozenset().union(*(each.first for each in found)),
        frozenset().union(*(each.last for each in found)),
        frozenset().union(*(each.pairs for each in found)),
    )


@cache
def _summaries(grammar: Grammar) -> "_Summaries":
    return _Summaries(grammar.automaton)


@dataclass(frozen=True, slots=True)
class _Summary:
    neighbours: Neighbours
    may_be_empty: bool


class _Summaries:
    """One summary a fragment, kept; grammars hold no recursion."""

    def __init__(self, automaton: Automaton) -> None:
        self._automaton = automaton
        self._known: dict[FragmentKey, _Summary] = {}

    def of(self, key: FragmentKey) -> _Summary:
        if key not in self._known:
            self._known[key] = self._summarise(key)
        return self._known[key]

    def _summarise(self, key: FragmentKey) -> _Summary:
        start, end = self._automaton.fragments[key]
        before = self._words_before(start)
        pairs: set[tuple[str, str]] = set()
        for number, words_before in before.items():
            state = self._automaton.states[number]
            followers = {over.token.text for over in state.words}
            for inner in self._called(state):
                followers |= inner.neighbours.first
                pairs |= inner.neighbours.pairs
            pairs |= {(one, other) for one in words_before for other in followers}
        ends = before.get(end, set())
        first = frozenset(other for one, other in pairs if one == _BEGIN)
        inside = frozenset(pair for pair in pairs if pair[0] != _BEGIN)
        return _Summary(Neighbours(first, frozenset(ends - {_BEGIN}), inside), _BEGIN in ends)

    def _words_before(self, start: int) -> dict[int, set[str]]:
        """For each state of the fragment, the words that may be the last ones said when it is reached."""
        before: dict[int, set[str]] = {start: {_BEGIN}}
        todo = [start]
        while todo:
            number = todo.pop()
            for target, words in self._leads(self._automaton.states[number], before[number]):
                if target not in before or not words <= before[target]:
                    before.setdefault(target, set()).update(words)
                    todo.append(target)
        return before

    def _leads(self, state: State, here: set[str]) -> Iterable[tuple[int, set[str]]]:
        for over in state.words:
            yield over.target, {over.token.text}
        for free in state.free:
            yield free.target, set(here)
        for call in state.calls:
            if call.fragment.layer is Layer.SAID:
                inner = self.of(call.fragment)
                yield call.target, set(inner.neighbours.last) | (here if inner.may_be_empty else set())

    def _called(self, state: State) -> Iterable[_Summary]:
        return [self.of(call.fragment) for call in state.calls if call.fragment.layer is Layer.SAID]
