"""Plays tones and read-back, one after the other, while the exam goes on."""

import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any, Protocol, TypeAlias

import numpy as np
import soxr

from voicelog.hearing import portaudio
from voicelog.hearing.errors import DeviceError
from voicelog.hearing.levels import Samples
from voicelog.speaking.errors import SpeakingError
from voicelog.speaking.tones import Signal, tone
from voicelog.speaking.voice import SpokenText

TONE_RATE_HZ = 48_000
_POLL_S = 0.01
_GRACE_S = 3.0  # beyond its length a sound may take this long: drivers buffer and start slowly


class Speaker(Protocol):
    """Something that lets the examiner hear what became of an utterance."""

    @property
    def is_playing(self) -> bool:
        """Whether anything is sounding or waiting to."""
        ...

    @property
    def is_speaking(self) -> bool:
        """Whether words are sounding."""
        ...

    @property
    def quiet_since(self) -> float | None:
        """`time.monotonic()` of the last sound's end; None while `is_playing`; -inf if there was none."""
        ...

    def tone(self, signal: Signal) -> None:
        """Play a tone after what is waiting; returns at once."""
        ...

    def say(self, text: str) -> None:
        """Speak `text` after what is waiting; returns at once. Nothing for empty text."""
        ...

    def stop(self) -> None:
        """Break off what sounds and forget what is waiting."""
        ...

    def close(self) -> None:
        """`stop`, and give back what is held."""
        ...


class Voice(Protocol):
    """Turns text into sound (`voice.SystemVoice`)."""

    def speak(self, text: str) -> SpokenText:
        """`text` as sound. Raises `SpeakingError`."""
        ...


class SilentSpeaker:
    """Says nothing: for recordings, typed lines, and machines without sound."""

    is_playing = False
    is_speaking = False
    quiet_since: float | None = float("-inf")

    def tone(self, signal: Signal) -> None:
        """Nothing."""

    def say(self, text: str) -> None:
        """Nothing."""

    def stop(self) -> None:
        """Nothing."""

    def close(self) -> None:
        """Nothing."""


OnSpeech: TypeAlias = Callable[[float], None]
OnProblem: TypeAlias = Callable[[str], None]


class SoundSpeaker:
    """Plays to a loudspeaker, in a thread of its own.

    `device` is a part of the loudspeaker's name (None: the system's default), `volume` the peak, 0 to 1,
    of tones and speech alike; without `tones` none sounds, without a `voice` texts are not spoken.
    `on_speech_started` and `on_speech_ended` get the time (`time.monotonic()`) and are called around
    speech, not tones, from the playing thread: they are meant for `PlaybackGate`. What cannot be played is
    skipped and told to `on_problem`.

    Raises `MissingPartError` without PortAudio, `SpeakingError` for a volume outside 0 to 1.
    """

    def __init__(
        self,
        voice: Voice | None = None,
        *,
        device: str | None = None,
        tones: bool = True,
        volume: float = 0.5,
        on_speech_started: OnSpeech | None = None,
        on_speech_ended: OnSpeech | None = None,
        on_problem: OnProblem | None = None,
    ) -> None:
        portaudio.load()
        self._tones = {signal: tone(signal, volume, TONE_RATE_HZ) for signal in Signal} if tones else {}
        self._voice, self._device, self._volume = voice, device, volume
        self._on_speech_started = on_speech_started or _nothing
        self._on_speech_ended = on_speech_ended or _nothing
        self._on_problem = on_problem or _nothing
        self._changed = threading.Condition()
        self._waiting: deque[Signal | str] = deque()
        self._busy = self._speaking = False
        self._closing = False
        self._quiet_since = float("-inf")
        self._break_off = threading.Event()
        self._thread = threading.Thread(target=self._work, name="speaker", daemon=True)
        self._thread.start()

    @property
    def is_playing(self) -> bool:
        """Whether anything is sounding or waiting to."""
        with self._changed:
            return self._busy or bool(self._waiting)

    @property
    def is_speaking(self) -> bool:
        """Whether words are sounding."""
        return self._speaking

    @property
    def quiet_since(self) -> float | None:
        """`time.monotonic()` of the last sound's end; None while `is_playing`; -inf if there was none."""
        with self._changed:
            return None if self._busy or self._waiting else self._quiet_since

    def tone(self, signal: Signal) -> None:
        """Play a tone after what is waiting; returns at once."""
        if self._tones:
            self._add(signal)

    def say(self, text: str) -> None:
        """Speak `text` after what is waiting; returns at once. Nothing without a voice or a text."""
        if self._voice is not None and text.strip():
            self._add(text)

    def stop(self) -> None:
        """Break off what sounds and forget what is waiting."""
        with self._changed:
            self._waiting.clear()
            self._break_off.set()

    def close(self) -> None:
        """`stop`, and end the playing thread."""
        with self._changed:
            self._closing = True
            self._changed.notify()
        self.stop()
        self._thread.join(_GRACE_S)

    def _add(self, job: Signal | str) -> None:
        with self._changed:
            self._waiting.append(job)
            self._changed.notify()

    def _work(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._waiting or self._closing)
                if self._closing:
                    return
                job, self._busy = self._waiting.popleft(), True
                self._break_off.clear()
            self._do(job)
            with self._changed:
                self._busy = False
                self._quiet_since = time.monotonic()

    def _do(self, job: Signal | str) -> None:
        try:
            if isinstance(job, Signal):
                _play(self._tones[job], TONE_RATE_HZ, self._device, self._break_off)
            else:
                self._say(job)
        except (SpeakingError, DeviceError, portaudio.load().PortAudioError) as error:
            self._on_problem(portaudio.one_line(error))

    def _say(self, text: str) -> None:
        if self._voice is None:
            return
        spoken = self._voice.speak(text)
        peak = float(np.max(np.abs(spoken.samples), initial=0.0))
        if peak == 0.0 or self._break_off.is_set():
            return
        self._speaking = True
        self._on_speech_started(time.monotonic())
        try:
            samples = spoken.samples * np.float32(self._volume / peak)
            _play(samples, spoken.rate_hz, self._device, self._break_off)
        finally:
            self._speaking = False
            self._on_speech_ended(time.monotonic())


class _Playback:
    """One sound on its way to an open stream."""

    def __init__(self, samples: Samples, channels: int) -> None:
        self.ended = threading.Event()
        self.complete = False
        self._samples = np.repeat(samples[:, np.newaxis], channels, axis=1)
        self._next = 0

    def fill(self, out: Samples, frames: int, clock: Any, status: Any) -> None:
        """Called by the driver's thread for the next `frames`."""
        piece = self._samples[self._next : self._next + frames]
        self._next += len(piece)
        out[: len(piece)] = piece
        out[len(piece) :] = 0.0
        if len(piece) < frames:
            self.complete = True
            raise portaudio.load().CallbackStop


def _play(samples: Samples, rate_hz: int, device_name: str | None, break_off: threading.Event) -> None:
    """Play `samples`, shape (n,), until they have sounded or `break_off` is set.

    Raises `DeviceError` or PortAudio's error when there is no loudspeaker or it goes away.
    """
    with portaudio.in_use():
        device = portaudio.choose(portaudio.output_devices(), device_name)
        channels = min(2, device.channels)
        samples, rate_hz = _fitted(samples, rate_hz, device, channels)
        playback = _Playback(samples, channels)
        stream: portaudio.Stream = portaudio.load().OutputStream(
            samplerate=rate_hz,
            device=device.index,
            channels=channels,
            dtype="float32",
            callback=playback.fill,
            finished_callback=playback.ended.set,
        )
        try:
            stream.start()
            deadline_s = time.monotonic() + len(samples) / rate_hz + _GRACE_S
            while not playback.ended.wait(_POLL_S) and not break_off.is_set():
                if time.monotonic() > deadline_s:
                    raise DeviceError(f"{device.name} does not take the sound")
            if playback.ended.is_set() and not playback.complete:
                raise DeviceError(f"{device.name} was lost while it was playing")
        finally:
            portaudio.close(stream)


def _fitted(samples: Samples, rate_hz: int, device: portaudio.Device, channels: int) -> tuple[Samples, int]:
    """The sound at a rate that the device takes."""
    sound = portaudio.load()
    try:
        sound.check_output_settings(device.index, channels, "float32", None, rate_hz)
    except sound.PortAudioError:
        return soxr.resample(samples, rate_hz, device.default_rate_hz), device.default_rate_hz
    return samples, rate_hz


def _nothing(told: float | str) -> None:
    """Nobody wants to know."""
