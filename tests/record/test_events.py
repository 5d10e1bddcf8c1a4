"""Every kind of event and meaning goes through the database and comes back the same."""

import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import astuple
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from voicelog.exam.entries import KINDS
from voicelog.exam.events import Act, Line, Put
from voicelog.phrases.meanings import Meaning, Model
from voicelog.record.chain import FIRST_LINK, Row, broken_at, event_of, row_of
from voicelog.record.databases import open_file
from voicelog.record.events import RECORD_EVENT, RecordEvent
from voicelog.record.exams import event_kinds
from voicelog.record.journal import Journal
from voicelog.record.tables import event as event_table

from .cases import MORNING, past_the_program
from .models_strategies import models

MEANING_KINDS = get_args(get_args(Meaning)[0])


def test_reflection_finds_what_is_declared() -> None:
    """The discriminators that pydantic itself works out, against the classes found here."""
    schema = RECORD_EVENT.json_schema()
    mapping = schema["discriminator"]["mapping"]

    assert {kind.model_fields["kind"].default for kind in event_kinds()} == set(mapping)
    assert len(event_kinds()) == len(mapping) >= 6
    assert len(MEANING_KINDS) >= 19


@pytest.fixture(scope="module", name="path")
def _path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An empty journal's file, used again and again: only making it takes time. Its rows may be removed."""
    folder = tmp_path_factory.mktemp("events")
    Journal.open(folder).close()
    path = folder / "voicelog.db"
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("DROP TRIGGER event_not_removed")
        connection.commit()
    return path


def kept_and_read(path: Path, events: Sequence[RecordEvent]) -> list[RecordEvent]:
    """Events through the file, closed and opened in between (the rows only: they need make no exam)."""
    rows = [row_of("20251125-aaaaaaaa", event, FIRST_LINK) for event in events]
    with past_the_program(path, triggers=True) as connection:
        connection.execute("PRAGMA synchronous = OFF")
        connection.execute("DELETE FROM event")
        columns = ", ".join(Row.__dataclass_fields__)
        numbered = [(row.exam, at, *astuple(row)[2:]) for at, row in enumerate(rows)]
        connection.executemany(f"INSERT INTO event ({columns}) VALUES (?, ?, ?, ?, ?, ?)", numbered)
    database = open_file(path)
    with database.reading() as connection:
        found = connection.execute(event_table.select().order_by(event_table.c.number)).all()
    database.close()
    return [event_of(row.body) for row in found]


@pytest.mark.parametrize("kind", event_kinds(), ids=lambda kind: kind.__name__)
@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_every_event_comes_back(kind: type[Model], data: st.DataObject, path: Path) -> None:
    events = data.draw(st.lists(models(kind), min_size=1, max_size=10))

    assert kept_and_read(path, events) == events


@pytest.mark.parametrize("kind", MEANING_KINDS, ids=lambda kind: kind.__name__)
@settings(max_examples=3, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_every_meaning_comes_back(kind: type[Model], data: st.DataObject, path: Path) -> None:
    meanings = data.draw(st.lists(models(kind), min_size=1, max_size=10))
    said = Line(number=1, at=MORNING, source="voice", text="x", outcome="accepted")
    events = [said.model_copy(update={"meanings": (each,)}) for each in meanings]

    assert kept_and_read(path, events) == events


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
@settings(max_examples=3, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_every_kind_of_entry_comes_back(kind: type[Model], data: st.DataObject, path: Path) -> None:
    entries = data.draw(st.lists(models(kind), min_size=1, max_size=5))
    line = Line(number=1, at=MORNING, source="voice", text="x", outcome="accepted")
    events = [
        line.model_copy(update={"acts": (Act(changes=(Put(id="1", entry=each),)),)}) for each in entries
    ]

    assert kept_and_read(path, events) == events


@settings(max_examples=10, deadline=None)
@given(data=st.data())
def test_chains_of_random_events_fit(data: st.DataObject) -> None:
    """Whatever the events are, their chain fits as it was made and not in another order."""
    drawn = data.draw(st.lists(st.one_of([models(kind) for kind in event_kinds()]), min_size=2, max_size=5))
    rows: list[Row] = []
    for number, event in enumerate(drawn):
        numbered = event.model_copy(update={"number": number})
        rows.append(row_of("20251125-aaaaaaaa", numbered, rows[-1].hash if rows else FIRST_LINK))

    assert broken_at(rows) is None
    assert broken_at(rows[::-1]) is not None
