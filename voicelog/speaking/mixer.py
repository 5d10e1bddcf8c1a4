"""What is to sound, pulled by whoever plays it; and what has sounded, sample by sample, for the canceller.

A tone sounds at once, over whatever else does; words wait for nobody here and are broken off at once. Positions count
samples from the first that was pulled.
"""

import threading
from collections import deque
from typing import Final

import numpy as np
import soxr

from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ

_FADE_S: Final = 0.005  # a sound that is broken off would click
_REMEMBERED_S: Final = 30.0


class Mixer:
    """Mono sound at `rate_hz`. Safe to use from several threads; `pull` never waits for long."""

    def __init__(self, rate_hz: int) -> None:
        self.rate_hz = rate_hz
        self._lock = threading.Lock()
        self._tone: Samples = np.zeros(0, np.float32)
        self._words: Samples = np.zeros(0, np.float32)
        self.text = ""
        """What is being said, or was said last, in words."""
        self._heard = _Played(rate_hz)

    @property
    def is_speaking(self) -> bool:
        """Whether words are left to sound."""
        return self._words.size > 0

    @property
    def is_playing(self) -> bool:
        """Whether anything is left to sound."""
        return self._words.size > 0 or self._tone.size > 0

    def play(self, samples: Samples) -> None:
        """Sound a tone now; one that still sounds is broken off."""
        with self._lock:
            self._tone = samples

    def speak(self, samples: Samples, text: str = "") -> None:
        """Say words now, instead of what is being said."""
        with self._lock:
            self._words, self.text = samples, text

    def stop(self) -> None:
        """Break off the words."""
        with self._lock:
            fade = self._words[: round(_FADE_S * self.rate_hz)]
            self._words = fade * np.linspace(1.0, 0.0, fade.size, dtype=np.float32)

    def clear(self) -> None:
        """Break off everything."""
        self.stop()
        with self._lock:
            self._tone = np.zeros(0, np.float32)

    def pull(self, count: int) -> Samples:
        """The next samples, shape (count,); silence where nothing is to sound."""
        with self._lock:
            out = np.zeros(count, np.float32)
            for part in (self._tone, self._words):
                out[: min(count, part.size)] += part[:count]
            self._tone, self._words = self._tone[count:], self._words[count:]
            np.clip(out, -1.0, 1.0, out=out)
            self._heard.add(out)
            return out

    def played(self, start: int, count: int) -> Samples:
        """What was pulled, at 16 kHz, shape (count,): from the sample `start` on, counted at 16 kHz.

        Silence where nothing has been pulled, or where it is forgotten.
        """
        with self._lock:
            return self._heard.part(start, count)

    @property
    def last_sound(self) -> int:
        """Place (16 kHz) one past the last sample that was not silent; -1 where none was."""
        with self._lock:
            return self._heard.last_sound


class _Played:
    """The past at 16 kHz."""

    def __init__(self, rate_hz: int) -> None:
        self.last_sound = -1
        self._stream = (
            None
            if rate_hz == SAMPLE_RATE_HZ
            else soxr.ResampleStream(rate_hz, SAMPLE_RATE_HZ, 1, dtype="float32", quality="LQ")
        )
        self._ratio = SAMPLE_RATE_HZ / rate_hz
        self._pulled = 0
        self._pieces: deque[tuple[int, Samples]] = deque()
        self._end = 0

    def add(self, samples: Samples) -> None:
        self._pulled += samples.size
        if np.any(samples):
            self.last_sound = round(self._pulled * self._ratio)
        piece = samples if self._stream is None else self._stream.resample_chunk(samples)
        if piece.size:
            self._pieces.append((self._end, piece))
            self._end += piece.size
        while self._pieces and self._pieces[0][0] < self._end - _REMEMBERED_S * SAMPLE_RATE_HZ:
            self._pieces.popleft()

    def part(self, start: int, count: int) -> Samples:
        out = np.zeros(count, np.float32)
        for first, piece in reversed(self._pieces):
            if first + piece.size <= start:
                break
            low, high = max(start, first), min(start + count, first + piece.size)
            if low < high:
                out[low - start : high - start] = piece[low - first : high - first]
        return out
