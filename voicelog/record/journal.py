"""The journal: exams are begun, added to, listed and opened here; nothing is ever changed or removed."""

import time
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import Connection, and_, func, insert, select, update

from voicelog.exam.events import Started
from voicelog.exam.state import ExamState
from voicelog.hearing.levels import Samples
from voicelog.record import log
from voicelog.record.chain import FIRST_LINK, Row, event_of, row_of
from voicelog.record.clips import Clip, Clips
from voicelog.record.databases import Database, open_file, open_server
from voicelog.record.errors import (
    CannotFollowError,
    ExamMovedOnError,
    NoSuchExamError,
    RecordError,
    in_plain_words,
)
from voicelog.record.events import RecordEvent
from voicelog.record.exams import ExamRecord, after, fold
from voicelog.record.head_file import HeadFile
from voicelog.record.heads import Head, signed
from voicelog.record.keys import MachineKey
from voicelog.record.leftovers import clear
from voicelog.record.listing import EVERY, Wanted, find, listing
from voicelog.record.migrations import migrate
from voicelog.record.names import new_name
from voicelog.record.old_events import OldAmended, Said
from voicelog.record.overviews import Overview, overview
from voicelog.record.patience import LONGEST_S
from voicelog.record.places import CLIPS_NAME, DATABASE_NAME, data_folder, named_after
from voicelog.record.storing import CaughtUp
from voicelog.record.tables import event as event_table
from voicelog.record.tables import exam as exam_table
from voicelog.record.times import in_time


class Journal:
    """All exams of one database, with the clips of this machine beside it."""

    def __init__(self, database: Database, clips: Clips, heads: HeadFile) -> None:
        self.database = database
        self.clips = clips
        self.heads = heads
        self.key = MachineKey(heads.path.parent)

    @classmethod
    def open(
        cls,
        folder: Path | None = None,
        server: str | None = None,
        *,
        clip_days: int = 30,
        heads_folder: Path | None = None,
    ) -> "Journal":
        """The journal in a folder, or on a PostgreSQL server given by its URL (clips stay in the folder).

        `folder` None means `places.data_folder()`. Clips are kept for `clip_days` days; 0 keeps none. `heads_folder` is
        a second folder for the heads of the log. Raises RecordError, MissingPartError.
        """
        folder = folder or data_folder()
        database = open_file(folder / DATABASE_NAME) if server is None else open_server(server)
        try:
            migrate(database)
        except BaseException:
            database.close()
            raise
        name = DATABASE_NAME.partition(".")[0] if server is None else named_after(database.where)
        heads = HeadFile(folder, name, heads_folder)
        journal = cls(database, Clips(folder / CLIPS_NAME, clip_days), heads)
        with in_plain_words(str(folder)):
            clear(journal)
        return journal

    def close(self) -> None:
        """Let go of the database; the last head goes where heads are kept."""
        self.database.close()
        self.heads.carry()

    def __enter__(self) -> "Journal":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def begin(self, at: datetime | None = None) -> "ExamStore":
        """A store for one new exam that begins now (or `at`); the exam exists from its first event on.

        What was kept before is made as safe as it can be first.
        """
        self.database.fold()
        self.heads.carry(wait_s=0)
        return ExamStore(self, new_name(at or datetime.now(UTC)))

    def reopen(self, exam: str) -> "ExamStore":
        """A store that adds to an exam. Raises NoSuchExamError, RecordError."""
        rows = self.rows(exam)
        return ExamStore(self, exam, fold(events_of(rows)), rows[-1].hash)

    def exam(self, exam: str) -> ExamRecord:
        """One exam. Raises NoSuchExamError, RecordError."""
        return fold(events_of(self.rows(exam)))

    def rows(self, exam: str) -> tuple[Row, ...]:
        """All rows of one exam, in order. Raises NoSuchExamError, RecordError."""
        query = select(event_table).where(event_table.c.exam == exam).order_by(event_table.c.number)
        with self.database.reading() as connection:
            rows = tuple(Row(**found) for found in connection.execute(query).mappings())
        if not rows:
            raise NoSuchExamError(f"there is no exam {exam!r}; voicelog record list shows them")
        return rows

    def names(self) -> Sequence[str]:
        """The names of all exams. Raises RecordError."""
        with self.database.reading() as connection:
            return connection.scalars(select(exam_table.c.id)).all()

    def has(self, exam: str) -> bool:
        """Whether there is an exam of that name. Raises RecordError."""
        with self.database.reading() as connection:
            query = select(exam_table.c.id).where(exam_table.c.id == exam)
            return connection.execute(query).first() is not None

    def take(self, rows: Sequence[Row], record: ExamRecord) -> None:
        """Keep a whole exam as it was kept elsewhere, in one transaction; its rows have been checked.

        Raises CannotFollowError, RecordError; nothing of it is then kept.
        """
        line = _worked_out(record, rows[-1])
        salt = log.new_salt()
        leaves = [log.event_leaf(salt, row.exam, row.number, row.hash, None) for row in rows[:-1]]
        leaves.append(log.event_leaf(salt, rows[-1].exam, rows[-1].number, rows[-1].hash, asdict(line)))
        with self.database.writing() as connection:
            connection.execute(insert(exam_table).values(asdict(line)))
            connection.execute(insert(event_table), [asdict(row) for row in rows])
            log.keep_salt(connection, rows[0].exam, salt)
            top = log.add(connection, leaves)
        self.note(top, rows[-1].at)

    def head(self) -> Head | None:
        """The head of the log as it stands, signed by this machine; None without any event. Raises RecordError."""
        return self.head_of(self)

    def head_of(self, journal: "Journal") -> Head | None:
        """The head of a copy's log, signed by this machine. Raises RecordError."""
        with journal.database.reading() as connection:
            top = log.top(connection)
            at = "" if top is None else log.time_of(connection, top)
        return None if top is None else self._signed(top, at)

    def note_again(self) -> None:
        """Keep the head of the log as it stands outside the database, after all of it was replaced. Never raises."""
        try:
            head = self.head()
            if head is not None:
                self.heads.add(head)
        except RecordError as error:
            self.heads.trouble = str(error)

    def note(self, top: log.Top, at: str) -> None:
        """Keep the head of the log outside the database. Never raises: what it stands for is kept already."""
        try:
            self.heads.add(self._signed(top, at))
        except RecordError as error:
            self.heads.trouble = str(error)

    def _signed(self, top: log.Top, at: str) -> Head:
        with in_plain_words(str(self.key.path)):
            return signed(top.size, top.root, top.exam, top.number, at, self.key)

    def overviews(self, wanted: Wanted = EVERY) -> list[Overview]:
        """Exams, the newest first. Raises RecordError."""
        with self.database.reading() as connection:
            return [Overview(**found) for found in connection.execute(listing(wanted)).mappings()]

    def count(self) -> int:
        """How many exams there are. Raises RecordError."""
        with self.database.reading() as connection:
            return connection.execute(select(func.count()).select_from(exam_table)).scalar_one()

    def find(self, named: str) -> str:
        """The exam meant by "last", its name, the start of its name, or its reference.

        Raises NoSuchExamError when that fits none, or more than one.
        """
        return find(self.database, named)


class ExamStore:
    """Keeps the events of one exam; what `session.Session` writes to. One at a time adds to an exam."""

    def __init__(
        self, journal: Journal, exam: str, record: ExamRecord | None = None, last_hash: str = FIRST_LINK
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
        line = _worked_out(record, row)
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


def _worked_out(record: ExamRecord, row: Row) -> Overview:
    """The exam's row, which also proves that the exam with this event in it can be worked out."""
    try:
        return overview(record, row)
    except (ValueError, LookupError, ArithmeticError) as error:
        raise CannotFollowError(f"event {row.number} makes no exam: {error}") from error


def events_of(rows: Sequence[Row]) -> Iterator[RecordEvent]:
    """The events of rows. Raises RecordError for one that cannot be read."""
    for row in rows:
        try:
            yield event_of(row.body)
        except ValueError as error:
            raise RecordError(
                f"event {row.number} of exam {row.exam} cannot be read; voicelog record verify says more"
            ) from error
