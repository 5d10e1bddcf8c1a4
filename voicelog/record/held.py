"""What the record refuses for a while is held in a file of this machine, and goes in at the next start after a kill.

`NAME.held` beside the journal has a line an event, synced: the exam and the event as it would have been kept. It holds
what is for the log alone, and is gone as soon as the record takes entries again.
"""

import json
import os
from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from voicelog.exam.events import Event, Line
from voicelog.exam.state import ExamState
from voicelog.hearing.levels import Samples
from voicelog.record.chain import canonical, event_of
from voicelog.record.clips import Clip
from voicelog.record.errors import CannotFollowError, NoSuchExamError, RecordError, in_plain_words
from voicelog.record.exam_store import ExamStore
from voicelog.record.inert import inert
from voicelog.record.places import private_file, private_folder, sync_folder, write_private

if TYPE_CHECKING:
    from voicelog.record.events import RecordEvent
    from voicelog.record.journal import Journal


class HeldFile:
    """The events that a record refused, by exam."""

    def __init__(self, path: Path) -> None:
        self.path = path

    @classmethod
    def of(cls, journal: "Journal") -> "HeldFile":
        """That of a record: two records of one folder have one each."""
        return cls(journal.heads.path.with_suffix(".held"))

    def add(self, exam: str, event: Event) -> None:
        """Hold an event; it is on the disk when this returns. Raises RecordError."""
        with in_plain_words(str(self.path)):
            private_folder(self.path.parent)
            with private_file(self.path).open("r+b") as file:
                _behind_the_last_whole_line(file)
                file.write(f"{canonical({'exam': exam, 'event': event.model_dump(mode='json')})}\n".encode())
                file.flush()
                os.fsync(file.fileno())
            sync_folder(self.path.parent)

    def drop(self, *exams: str) -> None:
        """Hold nothing of these exams any more. Raises RecordError."""
        with in_plain_words(str(self.path)):
            lines = self._lines()
            kept = [line for line in lines if _exam(line) not in (None, *exams)]
            if not kept:  # nor where a kill left nothing but the beginning of a line
                self.path.unlink(missing_ok=True)
            elif kept != lines:
                write_private(self.path, "".join(f"{line}\n" for line in kept).encode())

    def events(self) -> dict[str, list["RecordEvent"]]:
        """What is held, in its order; a line that was never finished is none. Raises RecordError."""
        found: dict[str, list[RecordEvent]] = {}
        with in_plain_words(str(self.path)):
            for line in self._lines():
                exam = _exam(line)
                if exam is not None:
                    found.setdefault(exam, []).append(event_of(canonical(json.loads(line)["event"])))
        return found

    def _lines(self) -> list[str]:
        try:
            return self.path.read_text(encoding="utf-8").split("\n")[:-1]
        except FileNotFoundError:
            return []


class HeldStore:
    """A store that goes on where the record refuses: its events go to the file. `before` are those not kept yet."""

    def __init__(self, store: ExamStore, file: HeldFile, before: Sequence[Event] = ()) -> None:
        self.exam = store.exam
        self._store, self._file = store, file
        self._next = store.next_number + len(before)
        file.drop(self.exam)
        for event in before:
            file.add(self.exam, event)

    def append(self, event: Event, state: ExamState | None = None) -> None:
        """Hold an event. Raises RecordError."""
        self._file.add(self.exam, event)
        self._next += 1

    @property
    def next_number(self) -> int:
        """The number of the event that is appended next."""
        return self._next

    @property
    def is_empty(self) -> bool:
        """An exam of which something is held has begun."""
        return False

    def begin_with(self, started: object) -> None:
        """Nothing: how it begins is held already."""
        raise CannotFollowError(f"exam {self.exam} has begun")

    def catch_up(self) -> None:
        """Nobody else adds to it."""

    def keep_clip(self, samples: Samples) -> Clip:
        """Keep the sound as for an entry: it lies on this machine. Raises RecordError."""
        return self._store.keep_clip(samples)

    def let_go(self) -> None:
        """The record takes entries again. Raises RecordError."""
        self._file.drop(self.exam)


def take_up(journal: "Journal") -> list[str]:
    """Put what was held when a program ended into the record; what came of it, in words.

    What cannot follow any more is named, and is then held no longer; while the record cannot be written to, all stays.
    """
    file, told = HeldFile.of(journal), list[str]()
    try:
        found = file.events()
    except (RecordError, ValueError, LookupError, TypeError) as error:
        return [f"{file.path}: what was held there cannot be read: {error}"]
    if not found:
        with suppress(RecordError):  # it is empty, and no harm where it lies
            file.drop()
    for exam, events in found.items():
        try:
            told += _taken_up(journal, exam, events)
            file.drop(exam)
        except RecordError as error:
            told.append(f"exam {exam}: {len(events)} held, and not entered yet: {error}")
    return told


def _taken_up(journal: "Journal", exam: str, events: Sequence["RecordEvent"]) -> Iterator[str]:
    """Raises RecordError while the record cannot be written to."""
    try:
        store = journal.reopen(exam)
    except NoSuchExamError:
        store = ExamStore(journal, exam)
    known = () if store.record is None else store.record.events
    rest = [each for each in events if not _is_kept(each, known)]
    why = ""
    for event in rest:
        try:
            if not why:
                store.append(event)
        except CannotFollowError as error:
            why = str(error)
        for words in _words([event]):
            state = (
                f"NOT ENTERED, was held when the program ended ({why})" if why else "entered now, was held"
            )
            yield f"exam {exam}: {state}: {words}"


def _is_kept(event: "RecordEvent", known: Sequence["RecordEvent"]) -> bool:
    """Whether the record took it after all, before the program ended."""
    if event.number >= len(known):
        return False
    there = known[event.number]
    if not isinstance(event, Line) or not isinstance(there, Line):
        return event == there
    return (there.source, there.text, there.meanings) == (event.source, event.text, event.meanings)


def _words(events: Iterable["RecordEvent"]) -> Iterator[str]:
    for event in events:
        if isinstance(event, Line) and (event.acts or event.question is not None):
            yield inert(event.text or "; ".join(event.replies))


def _behind_the_last_whole_line(file: BinaryIO) -> None:
    """Where the next line goes: what was begun and never finished would spoil it."""
    size = file.seek(0, os.SEEK_END)
    if size == 0:
        return
    file.seek(size - 1)
    if file.read(1) != b"\n":
        file.seek(0)
        size = file.read().rfind(b"\n") + 1
        file.truncate(size)
    file.seek(size)


def _exam(line: str) -> str | None:
    try:
        return str(json.loads(line)["exam"])
    except (ValueError, LookupError, TypeError):
        return None
