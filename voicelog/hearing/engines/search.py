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
    hopeless_log: float = 40.0  # given up when so far below the transcript without a grammar


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
        free = Spelled((), 0.0)
        growing = _Growing(np.zeros(1, np.float32), np.array([SpelledGrammar.START]), [()])
        finished: list[Spelled] = []
        rows = np.array([0, 0])
        free_ended = False
        for _ in range(longest):
            if not free_ended:
                best = int(log_p[0].argmax())
                free = Spelled((*free.pieces, best), free.log_probability + float(log_p[0, best]))
                free_ended = best == END
            phrase_rows = log_p[rows[1:]] if len(rows) > 1 else log_p[:0]
            growing, parents = self._extend(growing, phrase_rows, finished)
            growing, parents = self._prune(growing, parents, finished, free if free_ended else None)
            if free_ended and not growing.pieces:
                break
            # The transcript's row is kept to the end (its output is then unused), so that rows stay where they are.
            memory = memory.rows(
                np.concatenate(([0], rows[1:][parents] if len(parents) else [])).astype(np.int64)
            )
            last = np.array([free.pieces[-1], *(pieces[-1] for pieces in growing.pieces)], np.int64)
            log_p, memory = self._model.step(memory, last)
            rows = np.arange(len(last))
        finished.sort(key=lambda phrase: -phrase.log_probability)
        return Found(tuple(finished), free)

    def _extend(
        self, growing: _Growing, log_p: npt.NDArray[np.float32], finished: list[Spelled]
    ) -> tuple[_Growing, npt.NDArray[np.int64]]:
        """Every allowed next piece of every phrase, the best `beam` of them; whole phrases go to `finished`."""
        arrows = [self._grammar.arrows(int(state)) for state in growing.states]
        if not arrows:
            return growing, np.zeros(0, np.int64)
        parents = np.repeat(np.arange(len(arrows)), [len(each.ids) for each in arrows])
        ids = np.concatenate([each.ids for each in arrows])
        targets = np.concatenate([each.targets for each in arrows])
        scores = growing.scores[parents] + log_p[parents, ids]
        for at in np.flatnonzero(ids == END):
            finished.append(Spelled(growing.pieces[parents[at]], float(scores[at])))
        scores = np.where(ids == END, -np.inf, scores)
        order = np.argsort(-scores)[: 2 * self._width.beam]
        order = order[np.isfinite(scores[order])]
        pieces = [(*growing.pieces[parents[at]], int(ids[at])) for at in order]
        longer = _Growing(scores[order], targets[order], pieces)
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
        self, growing: _Growing, parents: npt.NDArray[np.int64], finished: list[Spelled], free: Spelled | None
    ) -> tuple[_Growing, npt.NDArray[np.int64]]:
        if not growing.pieces:
            return growing, parents
        best_whole = max((phrase.log_probability for phrase in finished), default=-np.inf)
        least = max(float(growing.scores[0]), best_whole) - self._width.behind_log
        if free is not None:
            least = max(least, free.log_probability - self._width.hopeless_log)
        kept = np.flatnonzero(growing.scores >= least)
        pieces = [growing.pieces[at] for at in kept]
        return _Growing(growing.scores[kept], growing.states[kept], pieces), parents[kept]


_MARKS = re.compile(r"[,!?-]|\.(?!\d)")


def _bare(text: str) -> str:
    return " ".join(_MARKS.sub(" ", text).lower().split())
