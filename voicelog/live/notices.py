"""What went wrong in a live exam: what is wrong now, and everything that was, one line each."""

import sys
import threading
import traceback
from typing import Final

from voicelog.record.inert import inert

_MOST_NOTES: Final = 1000


class Notices:
    """Told from any thread. Where no screen shows a note, it is said at once on standard error."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._notes: list[str] = []
        self._microphone = ""
        self._held = ""
        self._last = ""

    @property
    def notes(self) -> tuple[str, ...]:
        """All of them, in order."""
        with self._lock:
            return tuple(self._notes)

    @property
    def now(self) -> str:
        """What is wrong and still is; empty where nothing is."""
        return self._microphone or self._held or self._last

    def microphone(self, text: str) -> None:
        """The microphone is lost, or (empty) is there again."""
        self._microphone = text
        if not text:
            self._last = ""

    def held(self, text: str) -> None:
        """Something waits for the record; empty: nothing does any more."""
        self._held = text

    def wrong(self, text: str) -> None:
        """Something was not entered: shown until something was."""
        self._last = text
        self.note(text)

    def entered(self) -> None:
        """Something was entered: what was wrong before it is over."""
        self._last = ""

    def fault(self, fault: BaseException) -> None:
        """Something failed that should not, with the place in the code."""
        frames = traceback.extract_tb(fault.__traceback__)
        where = f" ({frames[-1].filename.rpartition('voicelog')[2]}:{frames[-1].lineno})" if frames else ""
        self.note(f"fault: {type(fault).__name__}: {' '.join(str(fault).split())}{where}")

    def note(self, text: str) -> None:
        """Keep a note."""
        with self._lock:
            if len(self._notes) >= _MOST_NOTES or (self._notes and self._notes[-1] == text):
                return
            self._notes.append(text)
        if not sys.stdout.isatty():
            print(inert(text), file=sys.stderr, flush=True)
