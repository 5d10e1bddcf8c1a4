"""The journal: exams are begun, added to, listed and opened here; nothing is ever changed or removed."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, RowMapping, Select, and_, func, insert, select, update

from voicelog.exam.state import ExamState
from voicelog.hearing.levels import Samples
from voicelog.record.chain import FIRST_LINK, Row, event_of, row_of, utc_text
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
from voicelog.record.leftovers import clear
from voicelog.record.migrations import migrate
from voicelog.record.names import is_name, new_name
from voicelog.record.old_events import OldAmended, Said
from voicelog.record.overviews import Overview, overview, sought
from voicelog.record.places import CLIPS_NAME, DATABASE_NAME, data_folder
from voicelog.record.tables import event as event_table
from voicelog.record.tables import exam as exam_table

_SHORTEST_START: Final = 4


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which exams to list; times are UTC, `since` inclusive and `until` exclusive; None asks nothing."""

    since: datetime | None = None
    until: datetime | None = None
    reference: str | None = None
    unresolved: bool = False
    limit: int = 50


class Journal:
    """All exams of one database, with the clips of this machine beside it."""

    def __init__(self, database: Database, clips: Clips) -> None:
        self.database = database
        self.clips = clips

    @classmethod
    def open(cls, folder: Path | None = None, server: str | None = None, *, clip_days: int = 30) -> "Journal":
        """The journal in a folder, or on a PostgreSQL server given by its URL (clips stay in the folder).

        `folder` None means `places.data_folder()`. Clips are kept for `clip_days` days; 0 keeps none.
        Raises RecordError, MissingPartError.
        """
        folder = folder or data_folder()
        database = open_file(folder / DATABASE_NAME) if server is None else open_server(server)
        try:
            migrate(database)
        except BaseException:
            database.close()
            raise
        journal = cls(database, Clips(folder / CLIPS_NAME, clip_days))
        with in_plain_words(str(folder)):
            clear(journal)
        return journal

    def close(self) -> None:
        """Let go of the database."""
        self.database.close()

    def __enter__(self) -> "Journal":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def begin(self, at: datetime | None = None) -> "ExamStore":
        """A store for one new exam that begins now (or `at`); the exam exists from its first event on."""
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
        return bool(self._ids(select(exam_table.c.id).where(exam_table.c.id == exam)))

    def take(self, rows: Sequence[Row], record: ExamRecord) -> None:
        """Keep a whole exam as it was kept elsewhere, in one transaction; its rows have been checked.

        Raises CannotFollowError, RecordError; nothing of it is then kept.
        """
        line = _worked_out(record, rows[-1])
        with self.database.writing() as connection:
            connection.execute(insert(exam_table).values(asdict(line)))
            connection.execute(insert(event_table), [asdict(row) for row in rows])

    def overviews(self, wanted: Wanted = Wanted()) -> list[Overview]:
        """Exams, the newest first. Raises RecordError."""
        with self.database.reading() as connection:
            return [_overview(found) for found in connection.execute(_listing(wanted)).mappings()]

    def count(self) -> int:
        """How many exams there are. Raises RecordError."""
        with self.database.reading() as connection:
            return connection.execute(select(func.count()).select_from(exam_table)).scalar_one()

    def find(self, named: str) -> str:
        """The exam meant by "last", its name, the start of its name, or its reference.

        Raises NoSuchExamError when that fits none, or more than one.
        """
        found = self._newest() if named == "last" else self._by_name(named) or self._by_reference(named)
        if not found:
            raise NoSuchExamError(f"no exam is meant by {named!r}; voicelog record list shows them")
        if len(found) > 1:
            names = ", ".join(found[:3])
            raise NoSuchExamError(f"{named!r} fits {names}{' ...' if len(found) > 3 else ''}: say which")
        return found[0]

    def _newest(self) -> Sequence[str]:
        return [each.id for each in self.overviews(Wanted(limit=1))]

    def _by_name(self, named: str) -> Sequence[str]:
        if is_name(named):
            return self._ids(select(exam_table.c.id).where(exam_table.c.id == named))
        if len(named) < _SHORTEST_START:
            return []
        return self._ids(select(exam_table.c.id).where(exam_table.c.id.startswith(named, autoescape=True)))

    def _by_reference(self, named: str) -> Sequence[str]:
        if not sought(named):
            return []
        return self._ids(select(exam_table.c.id).where(exam_table.c.sought == sought(named)))

    def _ids(self, query: Select[str]) -> Sequence[str]:
        with self.database.reading() as connection:
            return connection.scalars(query.order_by(exam_table.c.id.desc()).limit(4)).all()


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
        record = after(self.record, event, state)
        row = row_of(self.exam, event, self._last_hash)
        line = _worked_out(record, row)
        written = False
        try:
            with self._journal.database.writing() as connection:
                self._write(connection, row, line)
                written = True
        except RecordError:
            # The answer to a commit can be lost although the commit was done.
            if not (written and self._is_kept(row)):
                raise
        self.record, self._last_hash = record, row.hash

    def keep_clip(self, samples: Samples) -> Clip:
        """Keep the sound of an utterance, before the event that names it. Raises RecordError."""
        return self._journal.clips.keep(self.exam, samples)

    def _write(self, connection: Connection, row: Row, line: Overview) -> None:
        if row.number == 0:
            connection.execute(insert(exam_table).values(asdict(line)))
        else:
            here = exam_table.c.id == self.exam
            query = select(exam_table.c.last_hash).where(here).with_for_update()
            if connection.execute(query).scalar_one_or_none() != self._last_hash:
                raise ExamMovedOnError(
                    f"exam {self.exam} was added to from elsewhere: open it again; this entry was not kept"
                )
            values = {name: value for name, value in asdict(line).items() if name != "id"}
            connection.execute(update(exam_table).where(here).values(values))
        connection.execute(insert(event_table).values(asdict(row)))

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


def _listing(wanted: Wanted) -> Select[*tuple[Any, ...]]:
    """The names come from an index alone, which holds all that is asked; only then are the rows read."""
    columns = exam_table.c
    newest = (columns.started_at.desc(), columns.id.desc())
    names = select(columns.id).order_by(*newest).limit(wanted.limit)
    if wanted.since is not None:
        names = names.where(columns.started_at >= utc_text(wanted.since))
    if wanted.until is not None:
        names = names.where(columns.started_at < utc_text(wanted.until))
    if wanted.unresolved:
        names = names.where(columns.unresolved == 1)
    if wanted.reference is not None:
        names = names.where(columns.sought.contains(_searchable(wanted.reference), autoescape=True))
    return select(exam_table).where(columns.id.in_(names)).order_by(*newest)


def _searchable(reference: str) -> str:
    text = sought(reference)
    if not text:
        raise NoSuchExamError("the reference to look for has no letter, digit or sign")
    return text


def _overview(found: RowMapping) -> Overview:
    return Overview(**found)


def events_of(rows: Sequence[Row]) -> Iterator[RecordEvent]:
    """The events of rows. Raises RecordError for one that cannot be read."""
    for row in rows:
        try:
            yield event_of(row.body)
        except ValueError as error:
            raise RecordError(
                f"event {row.number} of exam {row.exam} cannot be read; voicelog record verify says more"
            ) from error
