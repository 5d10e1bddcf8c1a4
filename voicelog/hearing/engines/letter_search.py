"""The likeliest phrases of the grammar behind the letters of a network, found frame by frame.

A beam search over beginnings of phrases, each a line of letters (prefix search of connectionist temporal
classification: A. Graves et al., 2006; A. Hannun et al., 2014). A beginning has the probability of all its paths of
letters and blanks, so what comes out needs no second look at the sound. What may follow a beginning is told by its set
of places in the grammar (`word_network`) and its node in the tree of letters.
"""

from dataclasses import dataclass
from math import inf

import numpy as np
import numpy.typing as npt

from voicelog.hearing.engines.letter_tree import APOSTROPHE, JOINED_ROOT, ROOT
from voicelog.hearing.engines.letters import BLANK, LETTERS, Scores
from voicelog.hearing.engines.word_network import WordNetwork

Numbers = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]

_SPACE = LETTERS.index(" ")
# How a beginning goes on: by a letter of a word (1 to 27), by a space (0), by an apostrophe that joins a word (28).
_JOINED = 28
_KINDS = 32
_NONE = -1


@dataclass(frozen=True, slots=True)
class SearchWidth:
    """How widely the search looks. Log probabilities are base e."""

    beam: int = 200
    behind_log: float = 16.0
    """Dropped when so far behind the best beginning."""
    seldom_log: float = 18.0
    """A letter so much less likely than the best of its frame is not looked at."""
    grammar_weight: float = 0.6
    """How much the grammar's log weights count beside the sound; more than 0."""


@dataclass(frozen=True, slots=True)
class Phrase:
    """A whole phrase: its words, how likely the sound makes them, and the grammar's log weight."""

    text: str
    log_probability: float
    log_weight: float
    behind: int
    """The set of places behind its last word: what it may go on with."""


@dataclass(slots=True)
class _Growing:
    """Beginnings, a row each: number, how it came, set of places, node of the tree, last letter, grammar's log weight.

    `blank` and `letter` are the log probabilities of its paths that end with a blank, and of those that do not.
    """

    ids: Numbers
    keys: Numbers
    sets: Numbers
    nodes: Numbers
    last: Numbers
    weights: Floats
    blank: Floats
    letter: Floats

    def rows(self, rows: Numbers) -> "_Growing":
        """Some of them."""
        return _Growing(*(getattr(self, name)[rows] for name in self.__slots__))

    def beside(self, others: "_Growing") -> "_Growing":
        """These and others."""
        return _Growing(
            *(np.concatenate([getattr(self, name), getattr(others, name)]) for name in self.__slots__)
        )


@dataclass(slots=True)
class _Ways:
    """Ways on by a letter: from which row, how, to which node, with what log probability and grammar's log weight."""

    rows: Numbers
    kinds: Numbers
    nodes: Numbers
    points: Floats
    weights: Floats

    def some(self, which: Numbers) -> "_Ways":
        """Some of them."""
        return _Ways(*(getattr(self, name)[which] for name in self.__slots__))

    @property
    def between(self) -> npt.NDArray[np.bool_]:
        """Which of them end a word."""
        between: npt.NDArray[np.bool_] = (self.kinds == _SPACE) | (self.kinds == _JOINED)
        return between


class LetterSearch:
    """The search over one utterance: `take` frames as they come, then `phrases`."""

    def __init__(self, network: WordNetwork, rule: str, width: SearchWidth) -> None:
        self._network = network
        self._tree = network.tree
        self._width = width
        self._numbers: dict[int, int] = {}
        self._steps: list[tuple[int, int]] = []
        none, start = np.array([_NONE]), np.array([network.start(rule)])
        self._growing = _Growing(
            none, none, start, np.array([ROOT]), none, np.zeros(1), np.zeros(1), np.array([-inf])
        )

    def take(self, scores: Scores) -> None:
        """More frames, shape (frames, 29)."""
        for frame in scores.astype(np.float64):
            if len(self._growing.ids):
                self._step(frame)

    def phrases(self) -> tuple[Phrase, ...]:
        """Every whole phrase among the beginnings, likeliest first (sound and grammar together)."""
        here = self._growing
        words = self._tree.word[here.nodes]
        weights = self._whole_words(here)
        both = np.logaddexp(here.blank, here.letter)
        found = []
        for row in np.flatnonzero(np.isfinite(weights)):
            behind, more = self._network.after(int(here.sets[row]), int(words[row]))
            end = self._network.end(behind)
            if end > -inf:
                log_weight = float(here.weights[row]) + float(weights[row]) + more + end
                found.append(Phrase(self._text(int(here.ids[row])), float(both[row]), log_weight, behind))
        return tuple(sorted(found, key=lambda each: -self.rank(each)))

    def beginning(self) -> Phrase | None:
        """The likeliest whole words that a phrase may begin with, whether or not they are one themselves."""
        here = self._growing
        weights = here.weights + self._whole_words(here)
        ranks = np.logaddexp(here.blank, here.letter) + self._width.grammar_weight * weights
        row = int(ranks.argmax()) if len(ranks) else -1
        if row < 0 or not np.isfinite(ranks[row]):
            return None
        behind, more = self._network.after(int(here.sets[row]), int(self._tree.word[here.nodes[row]]))
        log_probability = float(np.logaddexp(here.blank[row], here.letter[row]))
        return Phrase(self._text(int(here.ids[row])), log_probability, float(weights[row]) + more, behind)

    def rank(self, phrase: Phrase) -> float:
        """What phrases are put in order by."""
        return phrase.log_probability + self._width.grammar_weight * phrase.log_weight

    def _text(self, number: int) -> str:
        letters = []
        while number != _NONE:
            number, kind = self._steps[number]
            letters.append(LETTERS[APOSTROPHE if kind == _JOINED else kind])
        return "".join(reversed(letters))

    def _step(self, frame: Floats) -> None:
        """One frame on."""
        here = self._growing
        both = np.logaddexp(here.blank, here.letter)
        stay_blank = both + frame[BLANK]
        stay_letter = here.letter + np.where(here.last >= 0, frame[here.last], -inf)
        hope = self._hope(here)
        best = float((np.logaddexp(stay_blank, stay_letter) + hope).max())
        ways = self._ways_on(here, both, frame)
        ranks = ways.points + self._hope_of(ways, here)
        best = max(best, float(ranks.max(initial=-inf)))
        kept = np.flatnonzero(ranks >= best - self._width.behind_log)
        ways, ranks = ways.some(kept), ranks[kept]
        # A way on that leads to a beginning which grows already adds to it.
        keys = here.ids[ways.rows] * _KINDS + ways.kinds
        order = np.argsort(here.keys)
        at = order[np.minimum(np.searchsorted(here.keys[order], keys), len(order) - 1)]
        known = here.keys[at] == keys
        stay_letter[at[known]] = np.logaddexp(stay_letter[at[known]], ways.points[known])
        here.blank, here.letter = stay_blank, stay_letter
        fresh = np.flatnonzero(~known)
        all_ranks = np.concatenate([np.logaddexp(stay_blank, stay_letter) + hope, ranks[fresh]])
        going = self._best(all_ranks)
        old = len(here.ids)
        new = fresh[going[going >= old] - old]
        self._growing = here.rows(going[going < old]).beside(self._begun(here, ways.some(new), keys[new]))

    def _best(self, ranks: Floats) -> Numbers:
        """The rows that go on."""
        near = np.flatnonzero(ranks >= ranks.max() - self._width.behind_log)
        if len(near) > self._width.beam:
            near = near[np.argsort(-ranks[near], kind="stable")[: self._width.beam]]
        return near

    def _whole_words(self, here: _Growing) -> npt.NDArray[np.float32]:
        """The log weight of the word that ends at each beginning's node; minus infinity where none does."""
        weights: npt.NDArray[np.float32] = self._network.ahead.at(here.sets, self._tree.leaf[here.nodes])
        return weights

    def _hope(self, here: _Growing) -> Floats:
        """The grammar's part in the rank of each beginning: its words so far, and the best word it may be in."""
        hope: Floats = self._width.grammar_weight * (
            here.weights + self._network.ahead.at(here.sets, here.nodes)
        )
        return hope

    def _hope_of(self, ways: _Ways, here: _Growing) -> Floats:
        """The same for the ways on."""
        nodes = np.where(ways.between, self._tree.column, ways.nodes)
        ahead = np.where(ways.between, 0.0, self._network.ahead.at(here.sets[ways.rows], nodes))
        hope: Floats = self._width.grammar_weight * (ways.weights + ahead)
        return hope

    def _ways_on(self, here: _Growing, both: Floats, frame: Floats) -> _Ways:
        """All ways on that the grammar allows, by the letters that are likely enough."""
        letters = np.flatnonzero(frame[:BLANK] >= frame.max() - self._width.seldom_log)
        inside = letters[letters != _SPACE]
        children = self._tree.children[here.nodes[:, None], inside[None]]
        rows, columns = np.nonzero(np.isfinite(self._network.ahead.at(here.sets[:, None], children)))
        parts = [(rows, inside[columns], children[rows, columns].astype(np.int64), here.weights[rows])]
        whole = self._whole_words(here)
        ended = np.flatnonzero(np.isfinite(whole))
        weights = here.weights[ended] + whole[ended]
        for letter, kind, root in ((_SPACE, _SPACE, ROOT), (APOSTROPHE, _JOINED, JOINED_ROOT)):
            if letter in letters:
                parts.append((ended, np.full(len(ended), kind), np.full(len(ended), root), weights))
        rows, kinds, nodes, weights = (np.concatenate(column) for column in zip(*parts, strict=True))
        spoken = np.where(kinds == _JOINED, APOSTROPHE, kinds)
        # A letter that is said twice has a blank between.
        points = np.where(here.last[rows] == spoken, here.blank[rows], both[rows]) + frame[spoken]
        return _Ways(rows, kinds, nodes, points, weights)

    def _begun(self, here: _Growing, ways: _Ways, keys: Numbers) -> _Growing:
        """The new beginnings; where a word ended, with the set behind it, if that has a way on."""
        sets = here.sets[ways.rows]
        for at in np.flatnonzero(ways.between):
            word = int(self._tree.word[here.nodes[ways.rows[at]]])
            sets[at], more = self._network.after(int(sets[at]), word)
            ways.weights[at] += more
            if ways.kinds[at] == _JOINED:
                ways.nodes[at] = self._tree.children[JOINED_ROOT, APOSTROPHE]
        alive = np.flatnonzero(np.isfinite(self._network.ahead.at(sets, ways.nodes)))
        ways, sets = ways.some(alive), sets[alive]
        return _Growing(
            np.array([self._number(int(key)) for key in keys[alive]], np.int64),
            keys[alive],
            sets,
            ways.nodes,
            np.where(ways.kinds == _JOINED, APOSTROPHE, ways.kinds),
            ways.weights,
            np.full(len(alive), -inf),
            ways.points,
        )

    def _number(self, key: int) -> int:
        """A beginning that was dropped and comes again is the same beginning."""
        number = self._numbers.setdefault(key, len(self._steps))
        if number == len(self._steps):
            self._steps.append(divmod(key, _KINDS))
        return number
