"""One exam's events on their way into the journal: each is on the disk when `append` returns, or has not happened."""

import time
from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import Connection, and_, insert, select, update

from voicelog.exam.entries import EarlierVisits
from voicelog.exam.events import Event, Started
from voicelog.exam.state import ExamState
from voicelog.hearing.levels import Samples
from voicelog.record import log
from voicelog.record.chain import FIRST_LINK, Row, events_of, row_of
from voicelog.record.clips import Clip
from voicelog.record.errors import CannotFollowError, ExamMovedOnError, RecordError
from voicelog.record.events import RecordEvent
from voicelog.record.exams import ExamRecord, after, fold
from voicelog.record.old_events import OldAmended, Said
from voicelog.record.overviews import Overview, worked_out
from voicelog.record.patience import LONGEST_S
from voicelog.record.storing import CaughtUp
from voicelog.record.tables import event as event_table
from voicelog.record.tables import exam as exam_table
from voicelog.record.times import in_time

if TYPE_CHECKING:
    from voicelog.record.held import HeldStore
    from voicelog.record.journal import Journal


class ExamStore:
    """Keeps the events of one exam; what `session.Session` writes to. One at a time adds to an exam."""

    def __init__(
        self, journal: "Journal", exam: str, record: ExamRecord | None = None, last_hash: str = FIRST_LINK
    ) -> None:
        self.exam = exam
        self.record = record
        """The exam with every event that was kept; None before the first."""
        self._journal = journal
        self._last_hash = last_hash
        self._salt: bytes | None = None
        self._tried = set[str]()
        """Hashes of rows of which it is not known whether they are kept."""

    @property
    def next_number(self) -> int:
        """The number that the next event must have."""
        return 0 if self.record is None else self.record.next_number

    def append(self, event: RecordEvent, state: ExamState | None = None) -> None:
        """Keep an event; when this returns it is on the disk, when it raises it has not happened.

        `state` is what a line leads to where that is known already; None: it is worked out.

        Raises CannotFollowError and AttestedError for an event that cannot come next, ExamMovedOnError when
        somebody else added to the exam, and RecordFullError, RecordReadOnlyError, RecordBusyError,
        RecordUnreachableError or RecordError when it could not be kept; trying again later is then safe.
        """
        if isinstance(event, Said | OldAmended):
            raise CannotFollowError(f"event {event.number} is of a form that is only read")
        event, state = in_time(self.record, event, state)
        record = after(self.record, event, state)
        row = row_of(self.exam, event, self._last_hash)
        line = worked_out(record, row)
        top, started = None, time.monotonic()
        try:
            with self._journal.database.writing(prompt=True) as connection:
                top = self._write(connection, row, line)
        except RecordError:
            # The answer to a commit can be lost although the commit was done. A server that hangs cannot be asked: if
            # it keeps the event when it goes on, whoever adds the next is told that the exam moved on.
            if top is None:
                raise
            if time.monotonic() - started > LONGEST_S or not self._is_kept(row):
                self._tried.add(row.hash)
                raise
        self.record, self._last_hash = record, row.hash
        self._journal.note(top, row.at)

    @property
    def is_empty(self) -> bool:
        """Whether nothing of the exam is kept yet."""
        return self.record is None

    def begin_with(self, started: Started) -> None:
        """Nothing: an exam is kept from its first event on."""
        raise CannotFollowError(f"exam {self.exam} has begun")

    def catch_up(self) -> CaughtUp:
        """Take in what others added to the exam since.

        Raises CannotFollowError where the exam in the record is another one than was kept so far (it was replaced by an
        older copy), RecordError.
        """
        rows, known = self._journal.rows(self.exam), self.next_number
        if len(rows) < known or (known and rows[known - 1].hash != self._last_hash):
            raise CannotFollowError(f"exam {self.exam} was replaced in the record: begin another exam")
        own = frozenset(row.number for row in rows[known:] if row.hash in self._tried)
        self.record, self._last_hash = fold(events_of(rows)), rows[-1].hash
        return CaughtUp(self.record.state, own, others=len(own) < len(rows) - known)

    def keep_clip(self, samples: Samples) -> Clip:
        """Keep the sound of an utterance, before the event that names it. Raises RecordError."""
        return self._journal.clips.keep(self.exam, samples)

    def earlier(self, reference: str, at: datetime) -> EarlierVisits:
        """What earlier exams of that reference found, for an exam at that time."""
        from voicelog.record.visits import earlier_visits  # it reads the journal, which makes stores

        return earlier_visits(self._journal, reference, at, but_not=self.exam)

    def held(self, before: Sequence[Event] = ()) -> "HeldStore":
        """A store in a file of this machine that goes on while the record refuses. Raises RecordError."""
        from voicelog.record.held import HeldFile, HeldStore  # it makes stores itself

        return HeldStore(self, HeldFile.of(self._journal), before)

    def _write(self, connection: Connection, row: Row, line: Overview) -> log.Top:
        values = asdict(line)
        if row.number == 0:
            self._salt = log.new_salt()
            connection.execute(insert(exam_table).values(values))
            log.keep_salt(connection, self.exam, self._salt)
        else:
            here = exam_table.c.id == self.exam
            query = select(exam_table.c.last_hash).where(here).with_for_update()
            if connection.execute(query).scalar_one_or_none() != self._last_hash:
                raise ExamMovedOnError(
                    f"exam {self.exam} was added to from elsewhere: open it again; this entry was not kept"
                )
            changed = {name: value for name, value in values.items() if name != "id"}
            connection.execute(update(exam_table).where(here).values(changed))
            if self._salt is None:
                self._salt = log.salt_of(connection, self.exam)
        connection.execute(insert(event_table).values(asdict(row)))
        if self._salt is None:
            raise RecordError(f"exam {self.exam} is not in the log; voicelog record verify says more")
        return log.add(connection, [log.event_leaf(self._salt, self.exam, row.number, row.hash, values)])

    def _is_kept(self, row: Row) -> bool:
        query = select(event_table.c.hash).where(
            and_(event_table.c.exam == row.exam, event_table.c.number == row.number)
        )
        try:
            with self._journal.database.reading() as connection:
                return connection.execute(query).scalar_one_or_none() == row.hash
        except RecordError:
            return False
