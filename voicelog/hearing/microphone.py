"""A microphone as a source: captured without losing samples, kept alive when the device goes and comes.

The sound driver's thread only stamps the time and puts the sound into a queue; all else, resampling too,
happens in the thread that iterates `MicrophoneSource.blocks`.
"""

import queue
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from enum import StrEnum
from types import ModuleType
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt
import soxr

from voicelog.hearing import portaudio
from voicelog.hearing.errors import DeviceError
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block

_BLOCK_S = 0.032
_DRIVER_BUFFER_S = 0.3  # what the driver may hold while Python is busy; does not delay the sound
_POLL_S = 0.1
_FIRST_SOUND_S = 4.0  # a virtual device may take 2 s to begin
_STALL_S = 1.5
_TELL_AGAIN_S = 1.0


class MicrophoneState(StrEnum):
    """What a microphone is doing."""

    LISTENING = "listening"
    """Sound is coming in."""
    LOST = "lost"
    """No sound: missing, busy or unplugged. It is tried again until it is back."""
    OVERFLOW = "overflow"
    """Sound was dropped since it was not fetched in time; listening goes on."""


OnState: TypeAlias = Callable[[MicrophoneState, str], None]


@dataclass(frozen=True, slots=True, eq=False)
class _Chunk:
    """What one call of the driver brought."""

    data: npt.NDArray[np.int16]  # shape (frames, channels)
    first_frame: int  # on the stream's own counter, at the device's rate
    arrived_s: float
    overflowed: bool  # the driver dropped sound before this


class _Capture:
    """One stream and its queue; capturing from the beginning. Raises PortAudio's error if it cannot."""

    def __init__(self, device: portaudio.Device, max_queue_s: float) -> None:
        sound = portaudio.load()
        self.device = device
        self.rate_hz, self._channels = _format(sound, device)
        block = round(_BLOCK_S * self.rate_hz)
        self.chunks: queue.Queue[_Chunk] = queue.Queue(max(1, round(max_queue_s / _BLOCK_S)))
        self._finished = threading.Event()
        self._frames = 0
        self._deadline_s = time.monotonic() + _FIRST_SOUND_S
        self._stream: portaudio.Stream = sound.InputStream(
            samplerate=self.rate_hz,
            blocksize=block,
            device=device.index,
            channels=self._channels,
            dtype="int16",
            latency=_DRIVER_BUFFER_S,
            callback=self._receive,
            finished_callback=self._finished.set,
        )
        try:
            self._stream.start()
        except sound.PortAudioError:
            self.close()
            raise

    def close(self) -> None:
        portaudio.close(self._stream)

    def next_chunk(self) -> _Chunk | None:
        """The next sound, None if there is none yet; `DeviceError` when there will be none."""
        try:
            chunk = self.chunks.get(timeout=_POLL_S)
        except queue.Empty:
            if self._finished.is_set() or time.monotonic() > self._deadline_s:
                raise DeviceError(f"{self.device.name} gives no sound") from None
            return None
        self._deadline_s = time.monotonic() + _STALL_S
        return chunk

    def _receive(self, data: npt.NDArray[np.int16], frames: int, clock: Any, status: Any) -> None:
        """Called by the driver's thread, which must never wait."""
        chunk = _Chunk(data.copy(), self._frames, time.monotonic(), bool(status.input_overflow))
        self._frames += frames
        # When the queue is full, the jump of `first_frame` in the next chunk tells what is missing.
        with suppress(queue.Full):
            self.chunks.put_nowait(chunk)


class MicrophoneSource:
    """The microphone named `device` (a part of its name; None: the system's default).

    `blocks` yields sound until `close`, also over losses of the device: then `on_state` is told, an empty
    block with `after_gap` ends the utterance in hand at once, and the device is tried again, every
    `retry_s`, until it is back. The sample counter is the same throughout and moves on over a gap by the
    time that has passed. `on_state` is called from the thread that iterates `blocks`.

    Sound that is fetched late waits in memory for up to `max_queue_s` (at most 0.2 MB a second, as a rule
    0.03). What does not fit is dropped, counted in `lost_samples` and reported, and leaves a marked gap.

    Raises `MissingPartError` without PortAudio; a missing or busy device raises nothing.
    """

    def __init__(
        self,
        device: str | None = None,
        on_state: OnState | None = None,
        *,
        max_queue_s: float = 600.0,
        retry_s: float = 1.0,
    ) -> None:
        portaudio.load()
        self.state: MicrophoneState | None = None
        """`LISTENING` or `LOST`; None before it is known."""
        self.lost_samples = 0
        """Samples (16 kHz) dropped while the device was there; those the driver drops are not known."""
        self.overflows = 0
        """How many times sound was dropped, by the queue or by the driver."""
        self.waiting_s = 0.0
        """Sound waiting in the queue, in seconds, when a block was last fetched."""
        self._name = device
        self._on_state = on_state or (lambda state, text: None)
        self._max_queue_s = max_queue_s
        self._retry_s = retry_s
        self._closing = threading.Event()
        self._reported = (MicrophoneState.LISTENING, "")
        self._next_sample = 0
        self._last_arrived_s: float | None = None
        self._overflow_told_s = float("-inf")

    def close(self) -> None:
        """Make `blocks` end soon; may be called from any thread."""
        self._closing.set()

    def blocks(self) -> Iterator[Block]:
        """Sound as it comes, until `close`; to be iterated once, in one thread."""
        while not self._closing.is_set():
            try:
                yield from self._until_lost()
            except DeviceError as error:
                self._change(MicrophoneState.LOST, str(error))
                self._closing.wait(self._retry_s)
                self._rescan()

    def _until_lost(self) -> Iterator[Block]:
        """From opening the device until it is lost (`DeviceError`) or `close` (return)."""
        with portaudio.in_use():
            capture = self._open(portaudio.choose(portaudio.input_devices(), self._name))
            try:
                yield from self._listen(capture)
            finally:
                capture.close()

    def _open(self, device: portaudio.Device) -> _Capture:
        try:
            return _Capture(device, self._max_queue_s)
        except portaudio.load().PortAudioError as error:
            reason = portaudio.one_line(error)
            raise DeviceError(f"{device.name} cannot be opened: missing, or in use ({reason})") from error

    def _rescan(self) -> None:
        try:
            portaudio.rescan()
        except DeviceError as error:
            self._change(MicrophoneState.LOST, str(error))

    def _listen(self, capture: _Capture) -> Iterator[Block]:
        convert = _Converter(capture.rate_hz)
        expected_frame: int | None = None
        while not self._closing.is_set():
            try:
                chunk = capture.next_chunk()
            except DeviceError:
                yield Block(np.zeros(0, np.float32), self._next_sample, time.monotonic(), after_gap=True)
                raise
            if chunk is None:
                continue
            self.waiting_s = capture.chunks.qsize() * _BLOCK_S
            if expected_frame is None:
                gap = self._opened(capture, chunk)
            else:
                gap = self._dropped(chunk, expected_frame, capture.rate_hz)
            if gap:
                convert = _Converter(capture.rate_hz)
            expected_frame = chunk.first_frame + len(chunk.data)
            yield self._block(convert(chunk.data), chunk.arrived_s, gap)

    def _opened(self, capture: _Capture, chunk: _Chunk) -> bool:
        """The first sound of an opened device; whether a gap lies before it."""
        last_s, length_s = self._last_arrived_s, len(chunk.data) / capture.rate_hz
        self._change(MicrophoneState.LISTENING, capture.device.name)
        if last_s is None:
            return False
        self._next_sample += max(0, round((chunk.arrived_s - length_s - last_s) * SAMPLE_RATE_HZ))
        return True

    def _dropped(self, chunk: _Chunk, expected_frame: int, rate_hz: int) -> bool:
        """Count what is missing before `chunk`; whether anything is."""
        missing = round((chunk.first_frame - expected_frame) * SAMPLE_RATE_HZ / rate_hz)
        if missing == 0 and not chunk.overflowed:
            return False
        self.overflows += 1
        self.lost_samples += missing
        self._next_sample += missing
        if chunk.arrived_s - self._overflow_told_s >= _TELL_AGAIN_S:
            self._overflow_told_s = chunk.arrived_s
            lost_s = self.lost_samples / SAMPLE_RATE_HZ
            self._on_state(
                MicrophoneState.OVERFLOW,
                f"sound dropped {self.overflows} times, {lost_s:.1f} s or more in all: computer too busy",
            )
        return True

    def _block(self, samples: Samples, arrived_s: float, gap: bool) -> Block:
        block = Block(samples, self._next_sample, arrived_s, gap)
        self._next_sample = block.end_sample
        self._last_arrived_s = arrived_s
        return block

    def _change(self, state: MicrophoneState, text: str) -> None:
        """Tell of a state that is new, or that has a new reason."""
        self.state = state
        if (state, text) != self._reported:
            self._reported = (state, text)
            self._on_state(state, text)


class _Converter:
    """From the device's chunks, shape (frames, channels), to mono float32 at 16 kHz, as a stream."""

    def __init__(self, rate_hz: int) -> None:
        self._stream = (
            None
            if rate_hz == SAMPLE_RATE_HZ
            else soxr.ResampleStream(rate_hz, SAMPLE_RATE_HZ, 1, dtype="float32")
        )

    def __call__(self, data: npt.NDArray[np.int16]) -> Samples:
        mono: Samples = data.mean(axis=1, dtype=np.float32) / np.float32(32768.0)
        if self._stream is None:
            return mono
        return np.asarray(self._stream.resample_chunk(mono), np.float32)


def _format(sound: ModuleType, device: portaudio.Device) -> tuple[int, int]:
    """The rate (Hz) and number of channels to open the device with: 16 kHz mono if it lets us."""
    channels = dict.fromkeys([1, min(2, device.channels)])
    wanted = [(rate_hz, n) for rate_hz in (SAMPLE_RATE_HZ, device.default_rate_hz) for n in channels]
    for rate_hz, n in wanted[:-1]:
        with suppress(sound.PortAudioError):
            sound.check_input_settings(device.index, n, "int16", None, rate_hz)
            return rate_hz, n
    sound.check_input_settings(device.index, wanted[-1][1], "int16", None, wanted[-1][0])
    return wanted[-1]
