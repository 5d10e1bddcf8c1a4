"""Plays a mixer to a loudspeaker, through one stream that stays open: a tone then begins within its buffer.

Where there is no loudspeaker the sound is pulled all the same, so that nothing waits for it, and the device is tried
again now and then.
"""

import threading
import time
from collections.abc import Callable
from typing import Any, Final

import numpy as np
import soxr

from voicelog.hearing import portaudio
from voicelog.hearing.errors import DeviceError
from voicelog.hearing.levels import Samples
from voicelog.speaking.clocks import Clock
from voicelog.speaking.mixer import Mixer

RATE_HZ: Final = 48_000
_LATENCY_S: Final = 0.08  # a tone must begin within 0.15 s; with less a busy computer leaves gaps
_POLL_S: Final = 0.02
_TRY_AGAIN_S: Final = 2.0
_STALL_S: Final = 2.0


class Loudspeaker:
    """Plays until it is closed, in a thread of its own; `pulled` is told when what was pulled.

    `device` is a part of the loudspeaker's name (None: the system's default). What is wrong is told to `on_problem`
    once, until it is well again. Raises `MissingPartError` without PortAudio.
    """

    def __init__(
        self,
        mixer: Mixer,
        pulled: Clock,
        *,
        device: str | None = None,
        on_problem: Callable[[str], None] = lambda text: None,
    ) -> None:
        portaudio.load()
        self._mixer, self._pulled, self._device, self._on_problem = mixer, pulled, device, on_problem
        self._closing = threading.Event()
        self._told = ""
        self._place = 0
        self._thread = threading.Thread(target=self._work, name="loudspeaker", daemon=True)
        self._thread.start()

    def close(self) -> None:
        """End the sound."""
        self._closing.set()
        self._thread.join(_STALL_S)

    def _work(self) -> None:
        while not self._closing.is_set():
            try:
                self._play()
            except (DeviceError, portaudio.load().PortAudioError) as error:
                self._tell(portaudio.one_line(error))
                self._play_nowhere(_TRY_AGAIN_S)
            if portaudio.rescan_wanted():
                self._play_nowhere(_POLL_S)

    def _tell(self, text: str) -> None:
        if text != self._told:
            self._told = text
            self._on_problem(text)

    def _pull(self, count: int) -> Samples:
        samples = self._mixer.pull(count)
        self._place += count
        self._pulled.note(self._place, time.monotonic())
        return samples

    def _play(self) -> None:
        """Until it is closed or devices are looked for. Raises DeviceError or PortAudio's error."""
        with portaudio.in_use():
            device = portaudio.choose(portaudio.output_devices(), self._device)
            feed = _Feed(self._pull, _rate_of(device), min(2, device.channels))
            stream: portaudio.Stream = portaudio.load().OutputStream(
                samplerate=feed.rate_hz,
                device=device.index,
                channels=feed.channels,
                dtype="float32",
                latency=_LATENCY_S,
                callback=feed.fill,
                finished_callback=feed.ended.set,
            )
            try:
                stream.start()
                self._watch(feed, device.name)
            finally:
                portaudio.close(stream)

    def _watch(self, feed: "_Feed", name: str) -> None:
        while not self._closing.is_set() and not portaudio.rescan_wanted():
            if feed.ended.wait(_POLL_S):
                raise DeviceError(f"{name} was lost")
            if time.monotonic() - feed.last_s > _STALL_S:
                raise DeviceError(f"{name} does not take the sound")
            self._told = ""

    def _play_nowhere(self, seconds: float) -> None:
        """Let the sound go by, at its own pace."""
        end_s = time.monotonic() + seconds
        while time.monotonic() < end_s and not self._closing.wait(_POLL_S):
            self._pull(round(_POLL_S * RATE_HZ))


class _Feed:
    """What the driver's thread calls."""

    def __init__(self, pull: Callable[[int], Samples], rate_hz: int, channels: int) -> None:
        self.rate_hz, self.channels = rate_hz, channels
        self.ended = threading.Event()
        self.last_s = time.monotonic()
        self._pull = pull
        self._stream = None if rate_hz == RATE_HZ else soxr.ResampleStream(RATE_HZ, rate_hz, 1, "float32")
        self._rest: Samples = np.zeros(0, np.float32)

    def fill(self, out: Samples, frames: int, clock: Any, status: Any) -> None:
        """The next `frames`."""
        self.last_s = time.monotonic()
        while self._rest.size < frames:
            count = max(1, round((frames - self._rest.size) * RATE_HZ / self.rate_hz))
            piece = self._pull(count)
            if self._stream is not None:
                piece = self._stream.resample_chunk(piece)
            self._rest = np.concatenate([self._rest, piece])
        out[:] = self._rest[:frames, np.newaxis]
        self._rest = self._rest[frames:]


def _rate_of(device: portaudio.Device) -> int:
    """48 kHz, or a rate that the device takes."""
    sound = portaudio.load()
    try:
        sound.check_output_settings(device.index, min(2, device.channels), "float32", None, RATE_HZ)
    except sound.PortAudioError:
        return device.default_rate_hz
    return RATE_HZ
