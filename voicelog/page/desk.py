"""The exam under way as the page sees it: its latest state, how the sound is, and a way to say something by hand."""

import threading
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

from voicelog.exam.events import Event
from voicelog.exam.state import ExamState
from voicelog.screen.turn import Turn


@dataclass(frozen=True, slots=True)
class Sound:
    """How the microphone is. `level_dbfs` is that of the last block; `notice` what is wrong and still is."""

    level_dbfs: float
    in_speech: bool = False
    notice: str = ""
    switch_open: bool | None = None
    """None without push-to-talk."""
    turn: Turn = Turn.LISTENING
    hint: str = ""
    """What may be done now."""
    missed: str = ""
    """How many utterances were not heard, and why."""
    banner: str = ""
    """What stays as long as the exam does, as that it is not kept."""
    view: str = ""
    """What was asked to be shown: "everything", "far"; empty where nothing was."""
    silent: bool = False
    """Nothing is read back."""


class Watcher(Protocol):
    """Told that something is new; called from any thread, so it may not wait."""

    def __call__(self) -> None:
        """Look at the desk when there is time."""
        ...


class Desk:
    """Holds what is new and wakes whoever watches; a listener of the session, called from its thread.

    `say` takes a phrase, in the order in which phrases and utterances come, and returns at once.
    """

    def __init__(
        self,
        name: str,
        state: ExamState,
        *,
        say: Callable[[str], None],
        sound: Callable[[], Sound],
    ) -> None:
        self.name = name
        """Tells this exam from the one before; the exam's name in the record where it is kept."""
        self.state = state
        self.ended = False
        self._say, self._sound = say, sound
        self._watchers: set[Watcher] = set()
        self._lock = threading.Lock()

    def __call__(self, event: Event, state: ExamState) -> None:
        """Take the state after an event."""
        self.state = state
        self._wake()

    @property
    def number(self) -> int:
        """The number of the last event."""
        return self.state.last_number

    @property
    def sound(self) -> Sound:
        """How the sound is now; once the exam has ended nothing is listened to, whatever the source of it says."""
        sound = self._sound()
        return replace(sound, turn=Turn.ENDED, in_speech=False, hint="") if self.ended else sound

    def say(self, phrase: str) -> bool:
        """Say a phrase by hand; False once the exam has ended."""
        if self.ended:
            return False
        self._say(phrase)
        return True

    def end(self) -> None:
        """Nothing more will come."""
        self.ended = True
        self._wake()

    def watch(self, watcher: Watcher) -> None:
        """Wake `watcher` after each event from now on."""
        with self._lock:
            self._watchers.add(watcher)

    def leave(self, watcher: Watcher) -> None:
        """Wake it no more."""
        with self._lock:
            self._watchers.discard(watcher)

    @property
    def watched(self) -> int:
        """How many watch."""
        with self._lock:
            return len(self._watchers)

    def _wake(self) -> None:
        with self._lock:
            watchers = tuple(self._watchers)
        for watcher in watchers:
            watcher()
