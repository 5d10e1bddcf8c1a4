"""What a room does to speech: reverberation, a far microphone, and noise at a stated signal-to-noise ratio.

Impulse responses are synthetic: the direct sound, six early reflections, and Gaussian noise whose level falls
by 60 dB in the reverberation time (the statistical model of a diffuse field, ISO 3382-2 defines the RT60 it
is set by). The ratio of direct to reverberant energy is set exactly. Everything is drawn from a seed made
from names, so the same clip always gets the same room and noise.
"""

from __future__ import annotations

import hashlib
import random
from collections.abc import Iterable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import soundfile
import soxr
from scipy.signal import butter, fftconvolve, sosfilt

from .levels import RATE_HZ, Samples, active_level_dbfs, gained, rms_dbfs

LONG_NOISE_S = 20.0
OFFSETS_TRIED = 8


@dataclass(frozen=True, slots=True)
class Room:
    """A room and a microphone in it.

    `rt60_s` is the time in which reverberation falls by 60 dB, `direct_db` the direct-to-reverberant energy
    ratio, `cutoff_hz` the upper limit of what reaches a microphone that is turned away (None: all of it).
    """

    name: str
    rt60_s: float
    direct_db: float
    cutoff_hz: float | None = None

    def further(self) -> Room:
        """The same room heard from across it: 9 dB less direct sound, and the treble dulled."""
        return replace(self, name=f"{self.name}-far", direct_db=self.direct_db - 9, cutoff_hz=5_000.0)


# Distances follow from the critical distance 0.057 sqrt(volume / RT60), where direct and diffuse energy are equal
# (Kuttruff, Room Acoustics; from memory), for rooms of 40 and 60 cubic metres.
CONSULTING_ROOM = Room("consulting", rt60_s=0.35, direct_db=9.0)
"""A small furnished room, microphone on the speaker's chest (0.2 m)."""

REVERBERANT_ROOM = Room("reverberant", rt60_s=0.6, direct_db=0.0)
"""A bare room, microphone on the desk beside the speaker (0.6 m)."""

FAR_ROOM = Room("far", rt60_s=0.6, direct_db=-6.0, cutoff_hz=6_000.0)
"""The same bare room, microphone out of reach (1.1 m) and turned away."""


def _seed(*names: object) -> int:
    return int.from_bytes(hashlib.sha256(repr(names).encode()).digest()[:8], "big")


def impulse_response(room: Room) -> Samples:
    """The room's impulse response at 16 kHz: direct sound of height 1 first, shape (n,), n about RT60."""
    rng = np.random.default_rng(_seed(room))
    length = round(room.rt60_s * RATE_HZ)
    time_s = np.arange(length) / RATE_HZ
    decay = 10 ** (-3 * time_s / room.rt60_s)
    tail = rng.standard_normal(length) * decay
    tail[: round(0.012 * RATE_HZ)] = 0
    early = rng.integers(round(0.003 * RATE_HZ), round(0.03 * RATE_HZ), 6)
    tail[early] += rng.choice([-1.0, 1.0], 6) * 4 * decay[early]
    tail *= np.sqrt(10 ** (-room.direct_db / 10) / np.sum(tail**2))
    tail[0] = 1.0
    return tail.astype(np.float32)


def reverberated(samples: Samples, room: Room) -> Samples:
    """`samples` as heard in `room`, speech level kept, shape (n,): the ring after the end is cut off.

    Clips end in silence, so what is cut is faint.
    """
    wet = fftconvolve(samples, impulse_response(room))[: len(samples)]
    if room.cutoff_hz is not None:
        wet = sosfilt(butter(2, room.cutoff_hz, fs=RATE_HZ, output="sos"), wet)
    wet = np.asarray(wet, dtype=np.float32)
    return gained(wet, active_level_dbfs(samples) - active_level_dbfs(wet))


@dataclass(frozen=True, slots=True)
class Noise:
    """A stretch of a noise recording: samples from `start_s` to `stop_s` (0 to the end when both are 0)."""

    path: Path
    start_s: float = 0.0
    stop_s: float = 0.0

    def samples(self) -> Samples:
        """The stretch at 16 kHz mono, shape (n,)."""
        with soundfile.SoundFile(self.path) as file:
            rate_hz = file.samplerate
            file.seek(round(self.start_s * rate_hz))
            count = round((self.stop_s - self.start_s) * rate_hz) if self.stop_s else -1
            sound = file.read(count, dtype="float32", always_2d=True).mean(axis=1)
        return np.asarray(soxr.resample(sound, rate_hz, RATE_HZ), dtype=np.float32)


@dataclass(frozen=True, slots=True)
class NoiseShelf:
    """Noise to choose from; tuning and test halves share no stretch of any recording."""

    noises: tuple[Noise, ...]

    @classmethod
    def of(cls, folders: Iterable[Path], half: str = "") -> NoiseShelf:
        """The noise in `folders`: all of it, or the "tuning" or "test" half.

        Short recordings go to the halves in turn, long ones (over 20 s) are cut in two. Raises ValueError
        when there is none.
        """
        noises: list[Noise] = []
        for folder in folders:
            for number, path in enumerate(sorted(folder.glob("*.flac"))):
                noises += _share(path, number, half)
        if not noises:
            raise ValueError("no noise recordings (*.flac) found; give their folders")
        return cls(tuple(noises))

    def pick(self, key: str) -> Noise:
        """The noise that belongs to `key`: always the same one for the same key and shelf."""
        return random.Random(_seed("noise", key)).choice(self.noises)


def _share(path: Path, number: int, half: str) -> list[Noise]:
    """What the half owns of one recording."""
    if not half:
        return [Noise(path)]
    duration_s = soundfile.info(path).duration
    if duration_s <= LONG_NOISE_S:
        return [Noise(path)] if (number % 2 == 0) == (half == "test") else []
    middle_s = duration_s / 2
    return [Noise(path, middle_s, duration_s) if half == "test" else Noise(path, 0.0, middle_s)]


def _stretch(noise: Samples, length: int, key: str) -> Samples:
    """`length` samples of `noise`, looped where it is short: the loudest of eight random places.

    The loudest, so that a bark or a cough falls on the speech and not beside it.
    """
    looped = np.tile(noise, 2 + length // len(noise))
    rng = np.random.default_rng(_seed("offset", key))
    starts = rng.integers(0, len(noise), OFFSETS_TRIED)
    return max((looped[start : start + length] for start in starts), key=rms_dbfs)


def add_noise(samples: Samples, noise: Noise, snr_db: float, key: str = "") -> Samples:
    """`samples` with `noise` so that the active speech level is `snr_db` above the noise's RMS level.

    Raises ValueError when the noise is silent.
    """
    stretch = _stretch(noise.samples(), len(samples), f"{noise.path.name} {key}")
    level = rms_dbfs(stretch)
    if level < -100:
        raise ValueError(f"{noise.path.name} is silent")
    wanted = active_level_dbfs(samples) - snr_db
    return gained(samples + stretch * np.float32(10 ** ((wanted - level) / 20)), 0.0)
