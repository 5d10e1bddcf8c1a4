"""A stand-in for the `sounddevice` module, with devices that a test plugs in, pulls out and plays into."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt


class PortAudioError(Exception):
    """As sounddevice's."""


class CallbackStop(Exception):
    """As sounddevice's."""


@dataclass
class FakeStatus:
    """Flags of a callback."""

    input_overflow: bool = False


@dataclass
class FakeDevice:
    """A device of the machine."""

    name: str
    inputs: int = 1
    outputs: int = 0
    rates_hz: tuple[int, ...] = (16000,)
    busy: bool = False


@dataclass
class FakeStream:
    """An open stream."""

    samplerate: int
    blocksize: int
    device: int
    channels: int
    dtype: str
    callback: Callable[..., None]
    finished_callback: Callable[[], None]
    latency: float | None = None
    closed: bool = False
    on_start: Callable[["FakeStream"], None] = field(default=lambda stream: None)
    frames: int = 0

    def start(self) -> None:
        self.on_start(self)

    def close(self) -> None:
        self.closed = True

    def bring(self, data: npt.NDArray[np.int16], overflow: bool = False) -> None:
        """The driver brings sound, shape (frames, channels)."""
        self.callback(data, len(data), None, FakeStatus(overflow))


class FakeSound:
    """The module. `on_input` is run when a microphone is started."""

    PortAudioError = PortAudioError
    CallbackStop = CallbackStop

    def __init__(self, *devices: FakeDevice) -> None:
        self.plugged_in = list(devices)
        self._seen = list(devices)
        self.streams: list[FakeStream] = []
        self.on_start: Callable[[FakeStream], None] = lambda stream: None
        self.rescans = 0

    @property
    def default(self) -> Any:
        """Default devices by kind."""
        first = {
            "input": next((i for i, each in enumerate(self._seen) if each.inputs), -1),
            "output": next((i for i, each in enumerate(self._seen) if each.outputs), -1),
        }
        return type("Default", (), {"device": first})

    def query_hostapis(self) -> list[dict[str, Any]]:
        return [{"name": "fake"}]

    def query_devices(self) -> list[dict[str, Any]]:
        return [
            {
                "index": index,
                "name": each.name,
                "hostapi": 0,
                "max_input_channels": each.inputs,
                "max_output_channels": each.outputs,
                "default_samplerate": float(each.rates_hz[0]),
            }
            for index, each in enumerate(self._seen)
        ]

    def check_input_settings(self, device: int, channels: int, dtype: str, extra: None, rate_hz: int) -> None:
        self._check(device, rate_hz, channels == 1 or channels == self._seen[device].inputs)

    def check_output_settings(
        self, device: int, channels: int, dtype: str, extra: None, rate_hz: int
    ) -> None:
        self._check(device, rate_hz, channels <= self._seen[device].outputs)

    def InputStream(self, **how: Any) -> FakeStream:
        return self._open(how)

    def OutputStream(self, **how: Any) -> FakeStream:
        return self._open({"blocksize": 0, **how})

    def _terminate(self) -> None:
        self._seen = []

    def _initialize(self) -> None:
        self._seen = list(self.plugged_in)
        self.rescans += 1

    def _check(self, device: int, rate_hz: int, channels_fit: bool) -> None:
        if rate_hz not in self._seen[device].rates_hz or not channels_fit:
            raise PortAudioError("Invalid sample rate [PaErrorCode -9997]", -9997)

    def _open(self, how: dict[str, Any]) -> FakeStream:
        device = self._seen[how["device"]]
        if device.busy or device not in self.plugged_in:
            raise PortAudioError("Error opening stream: Device unavailable [PaErrorCode -9985]", -9985)
        stream = FakeStream(**how, on_start=self.on_start)
        self.streams.append(stream)
        return stream
