"""An exam is kept from the first thing that is worth it, so that empty exams are not kept."""

from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime

from voicelog.exam.entries import EarlierVisits
from voicelog.exam.events import Event, Line, Started
from voicelog.exam.questions import ORDER
from voicelog.exam.state import ExamState
from voicelog.hearing.levels import Samples
from voicelog.record.clips import Clip
from voicelog.record.exam_store import ExamStore
from voicelog.record.held import HeldStore
from voicelog.record.storing import CaughtUp


class KeptFromFirstEntry:
    """A store that writes nothing before the first entry or question; `begun` is then called with the exam's name.

    What came before is written first, in its order. What has been written when the record refuses stays written, and
    the rest follows when the event is given again.
    """

    def __init__(self, store: ExamStore, begun: Callable[[str], None] = lambda exam: None) -> None:
        self._store, self._begun = store, begun
        self._waiting: deque[Event] = deque()
        self._known_before = False
        self.is_begun = store.record is not None

    @property
    def exam(self) -> str:
        """The exam's name in the record, where it is or will be."""
        return self._store.exam

    @property
    def next_number(self) -> int:
        """The number of the event that is appended next."""
        return self._store.next_number + len(self._waiting)

    def append(self, event: Event, state: ExamState | None = None) -> None:
        """Keep an event, or have it wait. Raises what `ExamStore.append` raises."""
        if not self.is_begun and (self._known_before or not _is_worth_keeping(event)):
            self._waiting.append(event)
            return
        while self._waiting:
            self._store.append(self._waiting[0])
            self._waiting.popleft()
        self._store.append(event, state)
        if not self.is_begun:
            self.is_begun = True
            self._begun(self.exam)

    @contextmanager
    def known_before(self) -> Iterator[None]:
        """What is appended within was known before the exam, and is no reason to keep it: it waits as well."""
        self._known_before = True
        try:
            yield
        finally:
            self._known_before = False

    @property
    def is_empty(self) -> bool:
        """Whether nothing of the exam is kept yet."""
        return not self.is_begun

    def begin_with(self, started: Started) -> None:
        """Have the exam begin so; it waits for its first entry."""
        self._waiting[0] = started

    def earlier(self, reference: str, at: datetime) -> EarlierVisits:
        """What earlier exams of that reference found, for an exam at that time."""
        return self._store.earlier(reference, at)

    def catch_up(self) -> CaughtUp | None:
        """Take in what others added. Before anything is kept nobody can. Raises RecordError."""
        return self._store.catch_up() if self.is_begun else None

    def held(self) -> HeldStore:
        """A store in a file of this machine that goes on while the record refuses. Raises RecordError."""
        return self._store.held(tuple(self._waiting))

    def keep_clip(self, samples: Samples) -> Clip:
        """Keep the sound of an utterance, before the event that names it. Raises RecordError."""
        return self._store.keep_clip(samples)


def _is_worth_keeping(event: Event) -> bool:
    """Whether anything was entered or waits to be."""
    if not isinstance(event, Line):
        return False
    asked = event.question
    # Before anything was kept only what was known before can be taken out.
    entered = any(change.op == "put" for act in event.acts for change in act.changes)
    return entered or (asked is not None and asked.missing != "reference" and asked.doubt != ORDER)
