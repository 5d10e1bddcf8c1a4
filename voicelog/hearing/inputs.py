"""The microphones of this machine, each with how loud it is: what an exam may listen to."""

import threading
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Final

from voicelog.hearing import portaudio
from voicelog.hearing.levels import FLOOR_DBFS, measure
from voicelog.hearing.microphone import MicrophoneSource, MicrophoneState
from voicelog.hearing.sources import Source

_IDLE_S: Final = 3.0  # nobody looks any more
_MOST: Final = 12  # sound systems offer one device under several names


@dataclass(frozen=True, slots=True)
class Input:
    """A microphone; `level_dbfs` None: it gave no sound so far, and `problem` says why where that is known."""

    name: str
    host: str
    channels: int
    is_default: bool
    level_dbfs: float | None = None
    problem: str = ""


Opened = Callable[[str | None, Callable[[MicrophoneState, str], None]], Source]


def connected() -> list[Input]:
    """Every microphone once, those of the system's own sound first. Raises MissingPartError, DeviceError."""
    found: dict[str, Input] = {}
    for each in portaudio.input_devices():
        found.setdefault(each.name, Input(each.name, each.host, each.channels, each.is_default))
    return list(found.values())[:_MOST]


class Meters:
    """Listens to all microphones at once while somebody looks; nothing of the sound is kept."""

    def __init__(
        self,
        names: Callable[[], list[Input]] = connected,
        opened: Opened = MicrophoneSource,
        idle_s: float = _IDLE_S,
    ) -> None:
        self._names, self._opened, self._idle_s = names, opened, idle_s
        self._lock = threading.Lock()
        self._sources: dict[str, Source] = {}
        self._levels: dict[str, tuple[float | None, str]] = {}
        self._looked_s = 0.0

    def connected(self) -> list[Input]:
        """Every microphone, without listening. Raises as `connected`."""
        return self._names()

    def look(self) -> list[Input]:
        """Every microphone with its level now; listening begins with the first look. Raises as `connected`."""
        inputs = self._names()
        with self._lock:
            self._looked_s = time.monotonic()
            for each in inputs:
                if each.name not in self._sources:
                    self._listen_to(each.name)
            found = dict(self._levels)
        return [_with_level(each, *found.get(each.name, (None, ""))) for each in inputs]

    def stop(self) -> None:
        """Let go of every microphone."""
        with self._lock:
            sources, self._sources, self._levels = self._sources, {}, {}
        for source in sources.values():
            source.close()

    def _listen_to(self, name: str) -> None:
        source = self._opened(name, lambda state, text: self._told(name, state, text))
        self._sources[name] = source
        threading.Thread(target=self._listen, args=(name, source), name=f"meter {name}", daemon=True).start()

    def _told(self, name: str, state: MicrophoneState, text: str) -> None:
        if state == MicrophoneState.LOST:
            self._levels[name] = (None, text)

    def _listen(self, name: str, source: Source) -> None:
        for block in source.blocks():
            if time.monotonic() - self._looked_s > self._idle_s:
                self.stop()
            if self._sources.get(name) is not source:
                return
            if block.samples.size:
                self._levels[name] = (max(FLOOR_DBFS, measure(block.samples).rms_dbfs), "")


def _with_level(each: Input, level_dbfs: float | None, problem: str) -> Input:
    return Input(each.name, each.host, each.channels, each.is_default, level_dbfs, problem)


def loudest(meters: Meters, seconds: float, pause_s: float = 0.1) -> Iterable[Input]:
    """Every microphone with the loudest that it gave within some seconds. Raises as `connected`."""
    found: dict[str, Input] = {}
    until_s = time.monotonic() + seconds
    try:
        while True:
            for each in meters.look():
                before = found.get(each.name)
                if (
                    before is None
                    or before.level_dbfs is None
                    or (each.level_dbfs or -999) > before.level_dbfs
                ):
                    found[each.name] = each
            if time.monotonic() >= until_s:
                return found.values()
            time.sleep(pause_s)
    finally:
        meters.stop()
