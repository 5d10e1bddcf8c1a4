"""The whole record read through, exam by exam: more than a million events, so no object is made for a row.

What reading one row costs is paid for every event ever kept, so SQLite's come from the driver itself, as plain tuples.
"""

import sqlite3
from collections.abc import Generator, Iterable, Iterator, Mapping
from contextlib import closing
from itertools import groupby, islice
from operator import itemgetter
from typing import Any, Final

from sqlalchemy import Column, ColumnElement, Connection, Select, and_, select

from voicelog.record.chain import Row
from voicelog.record.databases import text_of
from voicelog.record.tables import event as event_table
from voicelog.record.tables import exam as exam_table
from voicelog.record.tables import leaf as leaf_table

Kept = tuple[Any, Any, Any, Any, Any, Any, bytes | None, bytes | None]
"""Exam, number, time, kind, body and hash of an event, its leaf, and what the list said with it, hashed."""
_AT_ONCE: Final = 1000  # rows fetched together


def exams_of(connection: Connection) -> Iterator[tuple[object, list[Kept]]]:
    """Every exam with its events in order, in the order of the exams' names."""
    exam = _in_code_order(event_table.c.exam, connection)
    same = and_(leaf_table.c.exam == event_table.c.exam, leaf_table.c.number == event_table.c.number)
    query = select(event_table, leaf_table.c.leaf, leaf_table.c.listed).outerjoin(leaf_table, same)
    for name, rows in groupby(
        fetched(connection, query.order_by(exam, event_table.c.number)), key=itemgetter(0)
    ):
        yield name, list(rows)


def rows_of(kept: Iterable[Kept]) -> list[Row]:
    """The rows of the journal by themselves."""
    return [Row(*each[:6]) for each in kept]


def lines_of(connection: Connection) -> Iterator[Mapping[Any, Any]]:
    """The list of exams, in the order of their names."""
    query = select(exam_table).order_by(_in_code_order(exam_table.c.id, connection))
    names = [column.name for column in exam_table.columns]
    return (dict(zip(names, row, strict=True)) for row in fetched(connection, query))


def fetched(connection: Connection, query: Select[Any]) -> Generator[Any, None, None]:
    """The rows of a query without parameters, as tuples."""
    raw = connection.connection.driver_connection
    if isinstance(raw, sqlite3.Connection):
        return _of_file(raw, str(query.compile(connection)))
    return _of_server(connection, query)


def _of_server(connection: Connection, query: Select[Any]) -> Generator[Any, None, None]:
    with connection.execution_options(yield_per=_AT_ONCE).execute(query) as found:
        for rows in found.partitions():
            yield from rows


def _of_file(raw: sqlite3.Connection, query: str) -> Generator[Any, None, None]:
    """Texts are decoded by the driver, until one is damaged: from there on as everywhere else."""
    done = 0
    try:
        raw.text_factory = str
        for rows in _batches(raw, query):
            yield from rows
            done += len(rows)
        return
    except sqlite3.OperationalError:
        pass  # what else it may be will show once more
    finally:
        raw.text_factory = text_of
    yield from islice((row for rows in _batches(raw, query) for row in rows), done, None)


def _batches(raw: sqlite3.Connection, query: str) -> Iterator[list[Any]]:
    with closing(raw.execute(query)) as cursor:
        while rows := cursor.fetchmany(_AT_ONCE):
            yield rows


def _in_code_order(column: Column[str], connection: Connection) -> ColumnElement[str]:
    """A server may order texts as a language does; the list and the events are read side by side as Python orders."""
    return column if connection.dialect.name == "sqlite" else column.collate("C")
