"""An exam erased for good: its words and its sound go from everything that lies here, and that it was erased is kept.

What stays are the hashes of its events in the log, which say nothing without the exam's salt (that goes too), so that
heads of before still prove the rest. Backups are made anew without the exam. The other way, every exam encrypted with a
key of its own that is destroyed, was not taken: the keys would have to be kept apart from the backups and just as safe,
and whoever lost them would lose every backup.
"""

import shutil
import sqlite3
from collections.abc import Iterable
from contextlib import closing
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from typing import Any, Final

from sqlalchemy import Connection, delete, func, insert, select, text

from voicelog.phrases.meanings import Model
from voicelog.record import log
from voicelog.record.chain import FIRST_LINK, Row, canonical, link, utc_text
from voicelog.record.databases import WAIT_MS, Database
from voicelog.record.errors import NoSuchExamError, RecordBusyError, in_plain_words
from voicelog.record.events import Initials, Reason
from voicelog.record.held import HeldFile
from voicelog.record.journal import Journal
from voicelog.record.places import sync_folder
from voicelog.record.tables import erasure as erasure_table
from voicelog.record.tables import event as event_table
from voicelog.record.tables import exam as exam_table
from voicelog.record.tables import salt as salt_table

KIND: Final = "erased"


class Erased(Model):
    """Who had an exam erased, when and why; `events` is how many it had."""

    kind: str = KIND
    by: Initials
    at: datetime
    reason: Reason
    events: int


@dataclass(frozen=True, slots=True)
class Erasure:
    """An exam that was erased, with the row that says so."""

    exam: str
    row: Row
    said: Erased

    def __str__(self) -> str:
        return f"exam {self.exam} was erased on {self.said.at:%Y-%m-%d} by {self.said.by}: {self.said.reason}"


def erasures(connection: Connection) -> list[Erasure]:
    """Every exam that was erased, by name."""
    rows = [Row(*found) for found in connection.execute(select(erasure_table).order_by(erasure_table.c.exam))]
    return [Erasure(row.exam, row, Erased.model_validate_json(row.body)) for row in rows]


def erase(journal: Journal, exam: str, *, by: str, reason: str, at: datetime | None = None) -> None:
    """Erase an exam from a record and its sound from this machine. Raises NoSuchExamError, RecordError.

    An exam that was erased before is looked for once more, where its bytes could not be cleared then.
    """
    top, when = None, at or datetime.now(UTC)
    with journal.database.writing() as connection:
        # Who adds to the exam at this moment comes first, or is told that it is gone.
        connection.execute(select(exam_table.c.id).where(exam_table.c.id == exam).with_for_update())
        if not _is_erased(connection, exam):
            top = _taken_out(connection, _row(connection, exam, by, reason, when))
    if top is not None:
        journal.note(top, utc_text(when))
    clear(journal, [exam])


def clear(journal: Journal, exams: Iterable[str]) -> None:
    """Clear away the sound of exams that were erased, and the bytes of all that is. Raises RecordError."""
    for exam in exams:
        _clear_sound(journal, exam)
        HeldFile.of(journal).drop(exam)
    scrub(journal.database)


def erase_again(connection: Connection, known: Iterable[Erasure]) -> list[str]:
    """Of exams that were erased in one record, take out those that a copy of it holds, with the same words."""
    found = []
    for each in known:
        number = _count(connection, each.exam)
        if number and not _is_erased(connection, each.exam):
            row = each.row
            hash_ = link(FIRST_LINK, row.exam, number, row.at, row.kind, row.body)
            _taken_out(connection, Row(row.exam, number, row.at, row.kind, row.body, hash_))
            found.append(each.exam)
    return found


def scrub(database: Database) -> None:
    """Clear what is no longer kept from the bytes of a database. Raises RecordError.

    SQLite's file is written anew and its write-ahead file emptied. On a server the tables are written anew; its own log
    of changes and its backups are the server's to clear.
    """
    with in_plain_words(database.where):
        if database.path is None:
            engine = database.engine.execution_options(isolation_level="AUTOCOMMIT")
            with engine.connect() as connection:
                for table in (event_table, exam_table, salt_table):
                    connection.execute(text(f"VACUUM (FULL) {table.name}"))
            return
        database.engine.dispose()
        with closing(sqlite3.connect(database.path, isolation_level=None, timeout=WAIT_MS / 1000)) as file:
            file.execute("PRAGMA secure_delete = ON")
            file.execute("VACUUM")
            (busy, *_) = file.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    if busy:
        raise RecordBusyError(
            f"{database.where}: it is erased, but another program still reads what was there: close it and erase again"
        )


def _is_erased(connection: Connection, exam: str) -> bool:
    return (
        connection.execute(select(erasure_table.c.exam).where(erasure_table.c.exam == exam)).first()
        is not None
    )


def _count(connection: Connection, exam: str) -> int:
    query = select(func.count()).select_from(event_table).where(event_table.c.exam == exam)
    return connection.execute(query).scalar_one()


def _row(connection: Connection, exam: str, by: str, reason: str, at: datetime) -> Row:
    number = _count(connection, exam)
    if not number:
        raise NoSuchExamError(f"there is no exam {exam!r}; voicelog record list shows them")
    said = Erased(by=by, at=at, reason=reason, events=number)
    body, when = canonical(said.model_dump(mode="json")), utc_text(at)
    return Row(exam, number, when, KIND, body, link(FIRST_LINK, exam, number, when, KIND, body))


def _taken_out(connection: Connection, row: Row) -> log.Top:
    """The guards let an exam go once it is written down that it was erased."""
    values: dict[str, Any] = asdict(row)
    connection.execute(insert(erasure_table).values(values))
    for table, column in (
        (event_table, event_table.c.exam),
        (exam_table, exam_table.c.id),
        (salt_table, salt_table.c.exam),
    ):
        connection.execute(delete(table).where(column == row.exam))
    return log.add(connection, [log.Leaf(row.exam, row.number, log.hashed(b"", row.hash, None))])


def _clear_sound(journal: Journal, exam: str) -> None:
    with in_plain_words(str(journal.clips.folder)):
        if journal.clips.has(exam):
            shutil.rmtree(journal.clips.folder / exam)
            sync_folder(journal.clips.folder)
