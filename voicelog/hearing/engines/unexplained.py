"""How long somebody spoke, about as loud as the phrase, without any letter being heard.

The network of letters follows one speaker: beside a voice it gives another one no letters, nor the same one much lower.
That is well for talk in the room, but the second half of a phrase must not be lost in silence.
"""

import numpy as np
import numpy.typing as npt

from voicelog.hearing.engines.letters import BLANK, FRAME_S, SAMPLES_A_FRAME, Scores
from voicelog.hearing.engines.protocol import Samples
from voicelog.hearing.levels import FLOOR_DBFS

_BESIDE = 5
"""Frames before and behind a letter that are its own: 0.12 s."""
_NEAR_DB = 15.0
"""Sound is about as loud as the phrase when it is lower by less than this,"""
_ABOVE_DB = 15.0
"""and this much above the background."""
_BACKGROUND_PERCENT = 5


def unexplained_s(samples: Samples, scores: Scores) -> float:
    """Seconds of sound, shape (n,), that are loud and far from any letter of `scores`, shape (frames, 29)."""
    letters = scores.argmax(1) != BLANK
    levels = _levels_dbfs(samples, len(letters))
    heard = levels[letters & (levels > FLOOR_DBFS)]
    if not heard.size:
        return 0.0
    phrase_dbfs = 10 * np.log10(np.mean(10 ** (heard / 10)))
    background_dbfs = np.percentile(levels[levels > FLOOR_DBFS], _BACKGROUND_PERCENT)
    own = np.convolve(letters, np.ones(2 * _BESIDE + 1), "same") > 0.5
    loud = (levels > phrase_dbfs - _NEAR_DB) & (levels > background_dbfs + _ABOVE_DB)
    return float(np.count_nonzero(loud & ~own)) * FRAME_S


def _levels_dbfs(samples: Samples, frames: int) -> npt.NDArray[np.float64]:
    """The level of each frame, shape (frames,), not below FLOOR_DBFS."""
    padded = np.pad(samples, (0, max(0, frames * SAMPLES_A_FRAME - len(samples))))
    cut = padded[: frames * SAMPLES_A_FRAME].reshape(frames, SAMPLES_A_FRAME).astype(np.float64)
    power = np.maximum(np.mean(np.square(cut), axis=1), 10 ** (FLOOR_DBFS / 10))
    levels: npt.NDArray[np.float64] = 10 * np.log10(power)
    return levels
