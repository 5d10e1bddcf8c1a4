"""The beam search: the likeliest phrases of the grammar, and beside them the best transcript without one.

Both are found in one batch: row 0 of every step is the unconstrained transcript, the other rows walk the grammar.
"""

import re
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from voicelog.hearing.engines.network import MoonshineModel
from voicelog.hearing.engines.protocol import Samples
from voicelog.hearing.engines.spelling import SpelledGrammar
from voicelog.hearing.engines.tokens import END

_PIECES_PER_SECOND = 6.5  # what the model's authors allow; longer output is a loop, not speech
_FEWEST_PIECES = 16


@dataclass(frozen=True, slots=True)
class SearchWidth:
    """How widely the search looks. Log probabilities are base e."""

    beam: int = 8
    behind_log: float = 8.0  # dropped when so far behind the best phrase
    hopeless_log: float = 30.0  # given up when so far below what there is of the transcript without a grammar


@dataclass(frozen=True, slots=True)
class Spelled:
    """A whole phrase as it was spelled, with its log probability."""

    pieces: tuple[int, ...]
    log_probability: float


@dataclass(frozen=True, slots=True)
class Found:
    """All whole phrases found, likeliest first, and the transcript without a grammar."""

    phrases: tuple[Spelled, ...]
    free: Spelled


@dataclass(frozen=True, slots=True)
class _Growing:
    """Unfinished phrases, likeliest first: scores (k,), grammar states (k,), and the pieces so far."""

    scores: npt.NDArray[np.float32]
    states: npt.NDArray[np.int64]
    pieces: list[tuple[int, ...]]


class Search:
    """One search over one utterance."""

    def __init__(self, model: MoonshineModel, grammar: SpelledGrammar, width: SearchWidth) -> None:
        self._model = model
        self._grammar = grammar
        self._width = width

    def run(self, samples: Samples) -> Found:
        """Find phrases in sound of shape (n,), 16 kHz."""
        longest = max(_FEWEST_PIECES, int(len(samples) / 16000 * _PIECES_PER_SECOND) + 8)
        log_p, memory = self._model.begin(self._model.encode(samples))
        # At the first step one row serves the free transcript and the one phrase that has not begun.
        phrase_rows = np.array([0])
        growing = _Growing(np.zeros(1, np.float32), np.array([SpelledGrammar.START]), [()])
        free = Spelled((), 0.0)
        finished: list[Spelled] = []
        for _ in range(longest):
            free = _one_piece_on(free, log_p[0])
            growing, parents = self._extend(growing, log_p[phrase_rows], finished)
            growing, parents = self._prune(growing, parents, finished, free)
            if free.pieces[-1] == END and not growing.pieces:
                break
            # An ended transcript keeps its row, unused, so that the phrases' rows stay where they are.
            memory = memory.rows(np.concatenate(([0], phrase_rows[parents])))
            log_p, memory = self._model.step(
                memory, np.array([each[-1] for each in (free.pieces, *growing.pieces)])
            )
            phrase_rows = np.arange(1, 1 + len(growing.pieces))
        finished.sort(key=lambda phrase: -phrase.log_probability)
        return Found(tuple(finished), free)

    def _extend(
        self, growing: _Growing, log_p: npt.NDArray[np.float32], finished: list[Spelled]
    ) -> tuple[_Growing, npt.NDArray[np.int64]]:
        """Every allowed next piece of every phrase, the best `beam` of them; whole phrases go to `finished`."""
        if not growing.pieces:
            return growing, np.zeros(0, np.int64)
        allowed = [self._grammar.ids(int(state)) for state in growing.states]
        parents = np.repeat(np.arange(len(allowed)), [len(each) for each in allowed])
        ids = np.concatenate(allowed)
        scores = growing.scores[parents] + log_p[parents, ids]
        for at in np.flatnonzero(ids == END):
            finished.append(Spelled(growing.pieces[parents[at]], float(scores[at])))
        scores = np.where(ids == END, -np.inf, scores)
        order = np.argsort(-scores)[: 2 * self._width.beam]
        order = order[np.isfinite(scores[order])]
        pieces = [(*growing.pieces[parents[at]], int(ids[at])) for at in order]
        states = [int(growing.states[parents[at]]) for at in order]
        targets = [self._grammar.target(state, each[-1]) for state, each in zip(states, pieces, strict=True)]
        longer = _Growing(scores[order], np.array(targets, np.int64), pieces)
        return self._merge(longer, parents[order])

    def _merge(
        self, growing: _Growing, parents: npt.NDArray[np.int64]
    ) -> tuple[_Growing, npt.NDArray[np.int64]]:
        """Of phrases that differ in capitals and commas alone, the likeliest goes on with the probability of all."""
        groups: dict[tuple[int, str], list[int]] = {}
        for at, pieces in enumerate(growing.pieces):
            key = (int(growing.states[at]), _bare(self._model.tokeniser.decode(pieces)))
            groups.setdefault(key, []).append(at)
        kept = np.array([members[0] for members in groups.values()][: self._width.beam], np.int64)
        scores = [np.logaddexp.reduce(growing.scores[members]) for members in groups.values()][
            : self._width.beam
        ]
        spelled = [growing.pieces[at] for at in kept]
        return _Growing(np.array(scores, np.float32), growing.states[kept], spelled), parents[kept]

    def _prune(
        self, growing: _Growing, parents: npt.NDArray[np.int64], finished: list[Spelled], free: Spelled
    ) -> tuple[_Growing, npt.NDArray[np.int64]]:
        if not growing.pieces:
            return growing, parents
        best = max(float(growing.scores.max()), *(phrase.log_probability for phrase in finished), -np.inf)
        least = max(best - self._width.behind_log, free.log_probability - self._width.hopeless_log)
        kept = np.flatnonzero(growing.scores >= least)
        pieces = [growing.pieces[at] for at in kept]
        return _Growing(growing.scores[kept], growing.states[kept], pieces), parents[kept]


def _one_piece_on(free: Spelled, log_p: npt.NDArray[np.float32]) -> Spelled:
    """The transcript without a grammar with its likeliest next piece, until it has ended."""
    if free.pieces and free.pieces[-1] == END:
        return free
    best = int(log_p.argmax())
    return Spelled((*free.pieces, best), free.log_probability + float(log_p[best]))


_MARKS = re.compile(r"[,!?-]|\.(?!\d)")


def _bare(text: str) -> str:
    return " ".join(_MARKS.sub(" ", text).lower().split())
