"""Levels of a signal, and two cheap clean-ups. Pure functions of float samples whose full scale is 1.0.

0 dBFS is the level of a constant 1.0, for peak and rms alike: a full-scale sine peaks at 0 dBFS and has
an rms of -3.01 dBFS. Silence reads `FLOOR_DBFS` instead of minus infinity.
"""

import math
from dataclasses import dataclass
from typing import TypeAlias

import numpy as np
import numpy.typing as npt

Samples: TypeAlias = npt.NDArray[np.float32]

FLOOR_DBFS = -120.0
CLIP_LEVEL = 0.99
"""Share of full scale from which a sample counts as clipped: resampling moves clipped tops by about 1 %."""


@dataclass(frozen=True, slots=True)
class Level:
    """Level of one stretch of sound."""

    rms_dbfs: float
    peak_dbfs: float


def dbfs(amplitude: float) -> float:
    """Decibels relative to full scale of a linear amplitude (0 and more); never below `FLOOR_DBFS`."""
    if amplitude <= 0.0:
        return FLOOR_DBFS
    return max(FLOOR_DBFS, 20.0 * math.log10(amplitude))


def amplitude(level_dbfs: float) -> float:
    """Linear amplitude of a level in dBFS."""
    return float(10.0 ** (level_dbfs / 20.0))


def measure(samples: Samples) -> Level:
    """Rms and peak of samples, shape (n,); an empty array is silence."""
    if samples.size == 0:
        return Level(FLOOR_DBFS, FLOOR_DBFS)
    rms = math.sqrt(float(np.mean(np.square(samples, dtype=np.float64))))
    return Level(dbfs(rms), dbfs(float(np.max(np.abs(samples)))))


def clipped_fraction(samples: Samples, clip_level: float = CLIP_LEVEL) -> float:
    """Share, 0 to 1, of samples, shape (n,), at or beyond `clip_level` of full scale."""
    if samples.size == 0:
        return 0.0
    return float(np.mean(np.abs(samples) >= clip_level))


def high_passed(samples: Samples, cutoff_hz: float, rate_hz: int) -> Samples:
    """Samples, shape (n,), without offset and rumble: second-order Butterworth magnitude, no phase shift.

    The gain at f is 1 / sqrt(1 + (cutoff_hz / f)^4) (Butterworth 1930: -3.01 dB at the cut-off). It is
    applied in the frequency domain to the whole stretch, so it serves finished utterances, not a stream.
    """
    if samples.size == 0:
        return samples
    padding = min(samples.size - 1, rate_hz // 4)  # mirrored ends, so that an offset makes no step there
    padded = np.pad(samples.astype(np.float64), padding, mode="reflect")
    spectrum = np.fft.rfft(padded)
    frequency_hz = np.fft.rfftfreq(padded.size, 1.0 / rate_hz)
    spectrum[0] = 0.0
    spectrum[1:] /= np.sqrt(1.0 + (cutoff_hz / frequency_hz[1:]) ** 4)
    filtered = np.fft.irfft(spectrum, padded.size)
    return filtered[padding : padding + samples.size].astype(np.float32)


def normalised(
    samples: Samples,
    target_rms_dbfs: float = -23.0,
    ceiling_dbfs: float = -1.0,
    max_gain_db: float = 30.0,
) -> Samples:
    """Samples, shape (n,), scaled to an rms of `target_rms_dbfs`, shape unchanged.

    The gain never lifts the peak above `ceiling_dbfs` and never exceeds `max_gain_db`, so near-silence is
    not blown up into noise. Silence comes back as it is.
    """
    level = measure(samples)
    if level.peak_dbfs <= FLOOR_DBFS:
        return samples
    gain_db = min(target_rms_dbfs - level.rms_dbfs, ceiling_dbfs - level.peak_dbfs, max_gain_db)
    return samples * np.float32(amplitude(gain_db))
