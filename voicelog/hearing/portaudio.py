"""The one door to PortAudio: loading it, listing devices, and starting it anew to see new ones.

PortAudio lists devices once, when it starts. To see a microphone that was plugged in later it must be
stopped and started, which kills every open stream of the process. So each stream of this program is open
only inside `in_use`, and `rescan` waits until none is.
"""

import importlib
import os
import re
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any, TypeAlias

from voicelog.errors import MissingPartError
from voicelog.hearing.errors import DeviceError

Stream: TypeAlias = Any  # sounddevice is imported late and carries no types

_CLOSE_S = 2.0
_changed = threading.Condition()
_open_streams = 0
_rescans_waiting = 0


@dataclass(frozen=True, slots=True)
class Device:
    """A microphone or loudspeaker as PortAudio lists it."""

    index: int
    name: str
    host: str
    """The sound system that offers it (ALSA, WASAPI, Core Audio); one device may be offered by several."""
    channels: int
    default_rate_hz: int
    is_default: bool


def load() -> ModuleType:
    """The `sounddevice` module.

    Raises `MissingPartError`, with what to install, when it or the PortAudio library is missing.
    """
    try:
        return importlib.import_module("sounddevice")
    except ImportError as error:
        raise MissingPartError("live sound needs sounddevice: pip install sounddevice") from error
    except OSError as error:
        raise MissingPartError(
            "live sound needs the PortAudio library: on Debian or Ubuntu apt install libportaudio2, on Fedora"
            " dnf install portaudio, on macOS and Windows it comes with sounddevice"
            " (pip install --force-reinstall sounddevice; macOS also: brew install portaudio)"
        ) from error


def input_devices() -> list[Device]:
    """Microphones in PortAudio's order, those of the default sound system first.

    Raises `MissingPartError` without PortAudio.
    """
    return _devices("input")


def output_devices() -> list[Device]:
    """Loudspeakers, as `input_devices`."""
    return _devices("output")


def _devices(kind: str) -> list[Device]:
    sound = load()
    default_index = sound.default.device[kind]
    hosts = sound.query_hostapis()
    found = [
        Device(
            index=entry["index"],
            name=entry["name"],
            host=hosts[entry["hostapi"]]["name"],
            channels=entry[f"max_{kind}_channels"],
            default_rate_hz=round(entry["default_samplerate"]),
            is_default=entry["index"] == default_index,
        )
        for entry in sound.query_devices()
        if entry[f"max_{kind}_channels"] > 0
    ]
    default_host = next((device.host for device in found if device.is_default), "")
    return sorted(found, key=lambda device: device.host != default_host)


def choose(devices: list[Device], name: str | None) -> Device:
    """The device meant by `name`: the default one for None, else by whole name, else by a part of it.

    Letter case does not matter. Raises `DeviceError` when there is none.
    """
    if not devices:
        raise DeviceError("no sound device is connected")
    if name is None:
        return next((device for device in devices if device.is_default), devices[0])
    wanted = name.casefold()
    for fits in (str.__eq__, str.__contains__):
        for device in devices:
            if fits(device.name.casefold(), wanted):
                return device
    raise DeviceError(f"no sound device named {name!r}; there are: {', '.join(d.name for d in devices)}")


@contextmanager
def in_use() -> Iterator[None]:
    """Around the life of a stream: no `rescan` happens meanwhile."""
    global _open_streams
    with _changed:
        _open_streams += 1
    try:
        yield
    finally:
        with _changed:
            _open_streams -= 1
            _changed.notify_all()


def rescan_wanted() -> bool:
    """Whether somebody waits to look for devices: who can close a stream for a moment should do so."""
    return _rescans_waiting > 0


def rescan(timeout_s: float = 5.0) -> bool:
    """Look for devices anew; False if streams stayed open for `timeout_s` and nothing was done.

    Raises `DeviceError` when the sound system cannot be started again; a later call may succeed.
    """
    global _rescans_waiting
    sound = load()
    with _changed:
        _rescans_waiting += 1
        try:
            free = _changed.wait_for(lambda: _open_streams == 0, timeout_s)
        finally:
            _rescans_waiting -= 1
        if not free:
            return False
        try:
            sound._terminate()
            sound._initialize()
        except sound.PortAudioError as error:
            raise DeviceError(f"sound system not available ({one_line(error)})") from error
    return True


def close(stream: Stream) -> None:
    """Close a stream at once, even a dead one.

    In a thread of its own, since the driver of a device that was pulled out may never return. Such a
    stream counts as open for good: PortAudio cannot be restarted around it without hanging as well.
    """
    global _open_streams
    closer = threading.Thread(target=stream.close, name="close-sound", daemon=True)
    closer.start()
    closer.join(_CLOSE_S)
    if closer.is_alive():
        with _changed:
            _open_streams += 1


def one_line(error: Exception) -> str:
    """The message of an error, PortAudio's without its codes."""
    message = " ".join(str(error.args[0] if error.args else error).split())
    return re.sub(r" \[\w+ (error )?-?\d+\]", "", message)


@contextmanager
def native_messages_to(path: Path) -> Iterator[None]:
    """Send what sound libraries print by themselves to the end of a file, not over the screen.

    They write to the process's standard error when a device dies or is busy. Python's own `sys.stderr`
    still reaches the terminal. Affects the whole process: for the command line, around a live exam.
    """
    sys.stderr.flush()
    before, python_stderr = os.dup(2), sys.stderr
    with path.open("ab") as log, os.fdopen(os.dup(before), "w", buffering=1) as terminal:
        os.dup2(log.fileno(), 2)
        sys.stderr = terminal
        try:
            yield
        finally:
            sys.stderr = python_stderr
            os.dup2(before, 2)
            os.close(before)
