"""Somebody who may write the database, and knows how it is made; on SQLite and on a server alike."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, replace
from typing import Any

from sqlalchemy import Connection, delete, insert, select, text, update

from voicelog.record import log
from voicelog.record.chain import FIRST_LINK, Row, events_of, link
from voicelog.record.exams import fold
from voicelog.record.journal import Journal
from voicelog.record.log import Leaf
from voicelog.record.overviews import overview
from voicelog.record.tables import event, exam, leaf, salt

TABLES = ("event", "exam", "leaf", "salt", "erasure")


@contextmanager
def unguarded(journal: Journal) -> Iterator[Connection]:
    """The database without its guards, which are put on again as they were."""
    with journal.database.writing() as connection:
        if connection.dialect.name == "postgresql":
            for table in TABLES:
                connection.execute(text(f"ALTER TABLE {table} DISABLE TRIGGER ALL"))
            yield connection
            for table in TABLES:
                connection.execute(text(f"ALTER TABLE {table} ENABLE TRIGGER ALL"))
            return
        kept = connection.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")).all()
        connection.exec_driver_sql("PRAGMA defer_foreign_keys = ON")
        for name, _ in kept:
            connection.exec_driver_sql(f"DROP TRIGGER {name}")
        yield connection
        for _, sql in kept:
            connection.exec_driver_sql(sql)


def shortened(journal: Journal, name: str, count: int) -> None:
    """The last events of an exam taken out, and its row in the list made anew."""
    rows = journal.rows(name)
    with unguarded(journal) as connection:
        last = rows[-1].number - count
        connection.execute(delete(event).where(event.c.exam == name, event.c.number > last))
        list_again(connection, rows[: last + 1])


def taken_out(journal: Journal, name: str) -> None:
    """A whole exam taken out."""
    with unguarded(journal) as connection:
        for table, column in ((event, event.c.exam), (exam, exam.c.id), (salt, salt.c.exam)):
            connection.execute(delete(table).where(column == name))


def rewritten(journal: Journal, name: str, old: str, new: str) -> None:
    """What an exam says replaced in all its events, with hashes and a row in the list that fit."""
    rows: list[Row] = []
    for row in journal.rows(name):
        previous = rows[-1].hash if rows else FIRST_LINK
        body = row.body.replace(old, new)
        hash_ = link(previous, row.exam, row.number, row.at, row.kind, body)
        rows.append(replace(row, body=body, hash=hash_))
    assert rows[-1].hash != journal.rows(name)[-1].hash
    with unguarded(journal) as connection:
        connection.execute(delete(event).where(event.c.exam == name))
        connection.execute(insert(event), [asdict(row) for row in rows])
        list_again(connection, rows)


def list_again(connection: Connection, rows: Sequence[Row]) -> None:
    """The row of the list made anew from an exam's rows."""
    values = asdict(overview(fold(events_of(rows)), rows[-1]))
    connection.execute(update(exam).where(exam.c.id == rows[0].exam).values(values))


def log_again(journal: Journal, swapped: tuple[str, str] | None = None) -> None:
    """The whole log made anew for the events that are there: what is left shows nothing by itself.

    `swapped` names two exams that change places in it.
    """
    with unguarded(journal) as connection:
        order = connection.execute(select(leaf.c.exam, leaf.c.number).order_by(leaf.c.position)).all()
        said = {
            (row.exam, row.number): row.listed
            for row in connection.execute(select(leaf.c.exam, leaf.c.number, leaf.c.listed))
        }
        salts = dict(connection.execute(select(salt.c.exam, salt.c.salt)).all())
        there: dict[Any, Any] = {
            (row.exam, row.number): row.hash
            for row in connection.execute(select(event.c.exam, event.c.number, event.c.hash))
        }
        lines = {line["id"]: line for line in connection.execute(select(exam)).mappings()}
        places = [tuple(each) for each in order if tuple(each) in there]
        if swapped is not None:
            one, other = swapped
            places.sort(key=lambda place: [other, one].index(place[0]) if place[0] in swapped else -1)
        connection.execute(delete(leaf))
        for name, line in lines.items():
            said[name, line["last_number"]] = log.listed(salts[name], line)
        log.add(
            connection,
            [
                Leaf(name, n, log.hashed(salts[name], there[name, n], said[name, n]), said[name, n])
                for name, n in places
            ],
        )
