"""The journal: exams are begun, added to, listed and opened here; nothing is ever changed or removed."""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import func, insert, select

from voicelog.record import log
from voicelog.record.chain import Row, events_of
from voicelog.record.clips import Clips
from voicelog.record.databases import Database, open_file, open_server
from voicelog.record.errors import (
    NoSuchExamError,
    RecordError,
    in_plain_words,
)
from voicelog.record.exam_store import ExamStore
from voicelog.record.exams import ExamRecord, fold
from voicelog.record.head_file import HeadFile
from voicelog.record.heads import Head, signed
from voicelog.record.keys import MachineKey
from voicelog.record.leftovers import clear
from voicelog.record.listing import EVERY, Wanted, find, listing
from voicelog.record.migrations import migrate
from voicelog.record.names import new_name
from voicelog.record.overviews import Overview, worked_out
from voicelog.record.places import CLIPS_NAME, DATABASE_NAME, data_folder, named_after
from voicelog.record.tables import event as event_table
from voicelog.record.tables import exam as exam_table


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

    def begin(self, at: datetime | None = None) -> ExamStore:
        """A store for one new exam that begins now (or `at`); the exam exists from its first event on.

        What was kept before is made as safe as it can be first.
        """
        self.database.fold()
        self.heads.carry(wait_s=0)
        return ExamStore(self, new_name(at or datetime.now(UTC)))

    def reopen(self, exam: str) -> ExamStore:
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
        line = worked_out(record, rows[-1])
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

    def read_ahead(self) -> None:
        """Read all that lists and searches read, so that none of them waits for the disk. Never raises.

        Of 100,000 exams it lies all over a file of gigabytes: the first search took a quarter of a second.
        """
        with suppress(RecordError):
            behind_all = self.count()
            self.overviews(Wanted(skip=behind_all))
            self.overviews(Wanted(unresolved=True, skip=behind_all))

    def find(self, named: str) -> str:
        """The exam meant by "last", its name, the start of its name, or its reference.

        Raises NoSuchExamError when that fits none, or more than one.
        """
        return find(self.database, named)
