"""What a recogniser takes and gives."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt

from voicelog.phrases.matcher import Meanings

Samples = npt.NDArray[np.float32]
"""Mono sound, shape (n,), 16 kHz, full scale 1."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One thing the sound may say: its likeliest words, and its log probability (base e, all spellings summed).

    `meanings` are what was said, in order: several entries may be said in one breath.
    """

    text: str
    meanings: Meanings
    log_probability: float


@dataclass(frozen=True, slots=True)
class HeardWord:
    """A word of the best hypothesis and when it was said, in seconds from the start of the sound.

    `misfit` is how much likelier (log, base e, 0 or more) the sound there is as whatever letters fit it best.
    `telling`: what it says counts, as a number, a sign, an eye or a motion does, and a doubt.
    """

    text: str
    start_s: float
    end_s: float
    misfit: float
    telling: bool


@dataclass(frozen=True, slots=True)
class Ending:
    """Whether what was heard so far is all of it, from an engine that knows.

    `beginning` is the likeliest beginning of a phrase, `score` its log probability against the best transcript.
    `closing` is how much likelier the grammar makes it that the best phrase ends than that any one word follows (log).
    """

    beginning: str
    score: float
    closing: float


@dataclass(frozen=True, slots=True)
class Hearing:
    """What an engine heard in one utterance.

    `hypotheses` are different meanings, likeliest first; only whole phrases of the grammar are among them.
    `second_opinion` is how much a second listener prefers the best meaning to the one it may be mistaken for (its own
    log scale; None where it was not asked), `second_score` how likely it finds it against what it heard itself, and
    `second_letters` how long that is (a digit counts four, as it is spoken). `second_apart` is how much it prefers the
    numbers, signs, eyes and motions of the best to others in their places, the least of them (log).
    `free_text` and `free_log_probability` are the best transcript without a grammar (None where an engine has none).
    `words` are those of the best hypothesis, from an engine that knows how well each fits, and `unexplained_s` is how
    long somebody spoke, about as loud, without any letter. `reach` is how far behind
    the best (log) an engine has looked for others: where it found none, that is the margin.
    """

    engine: str
    hypotheses: tuple[Hypothesis, ...]
    free_text: str
    free_log_probability: float | None
    seconds: float
    second_opinion: float | None = None
    second_score: float | None = None
    second_letters: int | None = None
    second_apart: float | None = None
    words: tuple[HeardWord, ...] = ()
    unexplained_s: float = 0.0
    reach: float = float("inf")
    ending: Ending | None = None

    @property
    def score(self) -> float | None:
        """Log probability of the best meaning, against the best transcript without a grammar."""
        if not self.hypotheses:
            return None
        return self.hypotheses[0].log_probability - (self.free_log_probability or 0.0)

    @property
    def rival(self) -> Hypothesis | None:
        """The likeliest hypothesis that says something else than the best, not merely the same once more."""
        best = self.hypotheses[0].meanings if self.hypotheses else ()
        return next((each for each in self.hypotheses[1:] if not _is_repeated(best, each.meanings)), None)

    @property
    def margin(self) -> float | None:
        """How much likelier the best meaning is than its rival (log, base e); `reach` when there is none."""
        if not self.hypotheses:
            return None
        rival = self.rival
        if rival is None:
            return self.reach
        return min(self.reach, self.hypotheses[0].log_probability - rival.log_probability)


def _is_repeated(meanings: Meanings, other: Meanings) -> bool:
    """Whether `other` is `meanings` several times over."""
    times = len(other) // len(meanings) if meanings else 0
    return times > 1 and other == meanings * times


class Engine(Protocol):
    """A recogniser bound to a grammar."""

    name: str

    def hear(self, samples: Samples, rule: str) -> Hearing:
        """Hear one utterance as phrases of one rule of the grammar."""
        ...
