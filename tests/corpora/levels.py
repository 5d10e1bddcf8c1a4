"""Loudness of speech: the level of the parts where somebody speaks, and gains that set it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.float32]

RATE_HZ = 16_000
FRAME = RATE_HZ // 50
SPEECH_LEVEL_DBFS = -26.0
"""Level that every dry clip is brought to (the usual nominal level of ITU-T P.56 speech material)."""

ACTIVE_RANGE_DB = 25.0
SILENCE = 1e-6


def frame_levels_dbfs(samples: Samples) -> npt.NDArray[np.float64]:
    """RMS level of each 20 ms frame, in dB relative to full scale; shape (frames,)."""
    whole = samples[: len(samples) // FRAME * FRAME].astype(np.float64).reshape(-1, FRAME)
    levels: npt.NDArray[np.float64] = 20 * np.log10(np.sqrt(np.mean(whole**2, axis=1)) + SILENCE)
    return levels


def active_level_dbfs(samples: Samples) -> float:
    """RMS level over the frames within 25 dB of the loud ones (95th percentile): a simple stand-in for P.56.

    Raises ValueError for less than one frame of sound.
    """
    levels = frame_levels_dbfs(samples)
    if not levels.size:
        raise ValueError(f"{len(samples)} samples are too few to measure a level; {FRAME} are needed")
    active = levels[levels > np.percentile(levels, 95) - ACTIVE_RANGE_DB]
    return float(10 * np.log10(np.mean(10 ** (active / 10))))


def rms_dbfs(samples: Samples) -> float:
    """RMS level over everything, in dB relative to full scale."""
    return float(20 * np.log10(np.sqrt(np.mean(samples.astype(np.float64) ** 2)) + SILENCE))


def gained(samples: Samples, gain_db: float) -> Samples:
    """`samples` times the gain; the whole clip is turned down where it would pass 0.99 of full scale."""
    louder = samples.astype(np.float64) * 10 ** (gain_db / 20)
    peak = float(np.max(np.abs(louder), initial=0.0))
    return (louder * (0.99 / peak if peak > 0.99 else 1.0)).astype(np.float32)


def trimmed(samples: Samples, lead_s: float, tail_s: float) -> Samples:
    """`samples` cut to the sounding part (within 45 dB of the loud frames, and a little around it, for faint
    consonants at the edges) and padded with silence.
    """
    levels = frame_levels_dbfs(samples)
    sounding = np.flatnonzero(levels > np.percentile(levels, 95) - 45) if levels.size else np.zeros(0, int)
    if not sounding.size:
        return samples
    cut = samples[max(0, sounding[0] - 3) * FRAME : (sounding[-1] + 4) * FRAME]
    return np.pad(cut, (round(lead_s * RATE_HZ), round(tail_s * RATE_HZ)))
