"""How long the program's sound is on its way to the microphone: drivers may hold it for longer than a filter spans."""

from typing import Final

import numpy as np

from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ

LONGEST_S: Final = 1.5
WINDOW_S: Final = 0.8
_CLEAR: Final = 10.0  # the peak against the spread of all other delays; chance gives 4.5 (24,000 delays)


def delay_samples(reference: Samples, heard: Samples) -> int | None:
    """By how many samples `heard` is behind `reference`; None where that is not clear.

    `heard`, shape (n,), is what the microphone had while the last n samples of `reference`, shape (n + longest,), were
    given out. Generalised cross-correlation with phase transform: C. Knapp, G. Carter, "The generalized correlation
    method for estimation of time delay", IEEE Trans. ASSP 24 (1976).
    """
    longest = reference.size - heard.size
    size = 1 << (reference.size + heard.size).bit_length()
    cross = np.fft.rfft(heard, size) * np.conj(np.fft.rfft(reference, size))
    weight = np.abs(cross)
    # Where neither has sound to speak of, phases are chance.
    cross = np.where(weight > 1e-4 * np.max(weight, initial=1e-12), cross / np.maximum(weight, 1e-12), 0.0)
    found = np.fft.irfft(cross, size)
    # Lag -longest: no delay at all; lag 0: the longest.
    lags = np.concatenate([found[-longest:], found[:1]])
    peak = int(np.argmax(np.abs(lags)))
    if abs(float(lags[peak])) < _CLEAR * float(np.std(lags)):
        return None
    return peak


def longest_samples() -> int:
    """The longest delay that is looked for."""
    return round(LONGEST_S * SAMPLE_RATE_HZ)
