"""What the record refuses in a live exam is entered into a file of this machine meanwhile, so that it outlives a kill.

The exam itself waits. A twin of its session, which nobody watches, goes on without the record: so it is decided as in
the exam what of it is for the log, and nothing else is held.
"""

from collections.abc import Callable
from typing import Final

from voicelog.exam.events import Line
from voicelog.live.taking import ExamTaker
from voicelog.session import Session

_CANNOT_BE_HELD: Final = ("finish", "discard", "next_patient", "referred")
"""Orders after which what is said may be of another exam."""


class Holding:
    """Used in the thread that enters."""

    def __init__(self, taker: ExamTaker) -> None:
        self._taker = taker
        self._twin: Session | None = None
        self._holds = True

    def hold(self, enter: Callable[[], Line]) -> bool:
        """Hold what `enter` enters; False where it cannot be, and then nothing behind it is."""
        session = self._taker.session
        try:
            if not self._holds or (twin := self._twin_of(session)) is None:
                return False
            self._taker.session = twin
            enter()
        except Exception:  # whatever it is: what waits in memory is still there
            self._holds = False
            return False
        finally:
            self._taker.session = session
        return True

    def let_go(self) -> None:
        """The record takes entries again, and gets them as they were said. Raises RecordError."""
        twin, self._twin, self._holds = self._twin, None, True
        if twin is not None:
            twin.let_go()

    def _twin_of(self, session: Session) -> Session | None:
        if self._twin is None:
            self._twin = session.twin()
            if self._twin is not None:
                self._twin.on_order = self._ordered
        return self._twin

    def _ordered(self, order: str) -> None:
        if order in _CANNOT_BE_HELD:
            self._holds = False
