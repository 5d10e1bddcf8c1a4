"""The journal on SQLite: pragmas, guards, one transaction an event, and what is refused."""

import os
import sqlite3
import stat
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import Connection, text
from sqlalchemy.dialects.sqlite import dialect as sqlite_dialect
from sqlalchemy.exc import OperationalError

from voicelog.errors import VoicelogError
from voicelog.exam.events import Line, Started
from voicelog.record.databases import Database
from voicelog.record.errors import (
    AttestedError,
    CannotFollowError,
    ExamMovedOnError,
    NoSuchExamError,
    RecordBusyError,
    RecordDamagedError,
    RecordError,
    RecordUnreachableError,
)
from voicelog.record.events import Addendum, Attested
from voicelog.record.exam_store import ExamStore
from voicelog.record.journal import Journal
from voicelog.record.listing import Wanted, listing
from voicelog.record.names import is_name
from voicelog.record.places import data_folder

from .cases import LEFT, MORNING, NOON, RIGHT, dictated, not_kept, past_the_program


def test_pragmas_are_set_and_read_back(journal: Journal) -> None:
    """On every connection of the pool: all but the first setting last only as long as their connection."""
    with journal.database.engine.connect() as one, journal.database.engine.connect() as other:
        for connection in (one, other):
            found = {
                name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
                for name in ("journal_mode", "synchronous", "foreign_keys", "busy_timeout")
            }
            connection.rollback()

            # synchronous 2 is FULL (SQLite's documentation of the pragma)
            assert found == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1, "busy_timeout": 4500}


def test_only_the_user_can_read_the_files(folder: Path) -> None:
    """Even with a mask that would let everybody."""
    before = os.umask(0)
    try:
        with Journal.open(folder) as journal:
            store, _ = dictated(journal)
            store.keep_clip(np.zeros(1600, np.float32))
            modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in folder.rglob("*")}
            is_folder = {path.name for path in folder.rglob("*") if path.is_dir()}
    finally:
        os.umask(before)

    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert {"voicelog.db", "voicelog.db-wal", "voicelog.db-shm"} <= set(modes)
    for name, mode in modes.items():
        assert mode == (0o700 if name in is_folder else 0o600), name


def test_a_file_that_others_could_read_is_closed_to_them(folder: Path) -> None:
    Journal.open(folder).close()
    (folder / "voicelog.db").chmod(0o644)

    Journal.open(folder).close()

    assert stat.S_IMODE((folder / "voicelog.db").stat().st_mode) == 0o600


def test_the_data_folder_is_the_named_one_or_the_platforms(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("VOICELOG_DATA", str(tmp_path / "named"))
    assert data_folder() == tmp_path / "named"
    monkeypatch.delenv("VOICELOG_DATA")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "xdg"))
    assert data_folder().name == "voicelog"
    if sys.platform == "linux":
        assert data_folder() == tmp_path / "xdg" / "voicelog"


CHANGES = (
    "UPDATE event SET body = '{}'",
    "UPDATE event SET hash = hash",
    "DELETE FROM event",
    "DELETE FROM event WHERE number = 3",
    "INSERT OR REPLACE INTO event SELECT exam, number, at, kind, '{}', hash FROM event WHERE number = 3",
    "REPLACE INTO event SELECT * FROM event WHERE number = 3",
    "INSERT INTO event SELECT exam, 99, at, kind, body, hash FROM event WHERE number = 3",
    "INSERT INTO event SELECT 'no such exam', 0, at, kind, body, hash FROM event WHERE number = 0",
    "DELETE FROM exam",
    "UPDATE exam SET id = 'other'",
    "INSERT OR REPLACE INTO exam SELECT * FROM exam",
)


@pytest.mark.parametrize("statement", CHANGES)
def test_what_is_kept_cannot_be_changed(journal: Journal, folder: Path, statement: str) -> None:
    """By our own connection, and by a stranger's with SQLite's defaults (a foreign key apart, which is off there)."""
    store, _ = dictated(journal)
    before = journal.rows(store.exam)

    with pytest.raises(VoicelogError), journal.database.writing() as connection:
        connection.execute(text(statement))
    if "no such exam" not in statement:
        with (
            past_the_program(folder / "voicelog.db", triggers=True) as stranger,
            pytest.raises(sqlite3.IntegrityError, match=r"added|never|exam of that name"),
        ):
            stranger.execute(statement)

    assert journal.rows(store.exam) == before


def test_an_exam_comes_back_as_it_was(journal: Journal, folder: Path) -> None:
    store, session = dictated(journal, reference="4711")
    journal.close()

    with Journal.open(folder) as again:
        record = again.exam(store.exam)

    assert is_name(store.exam)
    assert record.state == session.state
    assert record.events == session.state.events
    assert str(record.eyes["right"].solution.net) == RIGHT
    assert str(record.eyes["left"].solution.net) == LEFT


def test_an_exam_can_be_gone_on_with(journal: Journal) -> None:
    store, session = dictated(journal)

    again = journal.reopen(store.exam)
    again.append(session.state.events[-1].model_copy(update={"number": again.record.next_number}))  # type: ignore[union-attr]

    assert len(journal.rows(store.exam)) == len(session.state.events) + 1


@pytest.mark.parametrize("number", [0, 1, 12, 14])
def test_events_out_of_order_are_refused(journal: Journal, number: int) -> None:
    store, session = dictated(journal)
    wrong = session.state.events[-1].model_copy(update={"number": number})
    assert len(session.state.events) == 11

    with pytest.raises(CannotFollowError, match="number 11 comes next"):
        store.append(wrong)

    assert len(journal.rows(store.exam)) == 11


def test_an_exam_begins_with_its_start_and_has_one(journal: Journal) -> None:
    start = Started(at=MORNING, naming="streak")
    with pytest.raises(CannotFollowError, match="must be its start"):
        journal.begin().append(Addendum(number=0, at=NOON, by="AB", text="x"))
    store = journal.begin()
    store.append(start)
    with pytest.raises(CannotFollowError, match="starts once"):
        store.append(start.model_copy(update={"number": 1}))

    assert len(journal.rows(store.exam)) == 1


def test_an_event_that_makes_no_exam_is_refused(journal: Journal) -> None:
    """A change of an entry that is not there could not be worked out again."""
    store, _ = dictated(journal)
    number = store.record.next_number  # type: ignore[union-attr]
    line = {"number": number, "at": MORNING, "source": "typed", "text": "x", "outcome": "accepted"}
    acts = [{"changes": [{"op": "remove", "id": "99"}]}]

    with pytest.raises(
        CannotFollowError, match=f"event {number} does not fit its exam: there is no entry 99"
    ):
        store.append(Line.model_validate(line | {"acts": acts}))

    assert len(journal.rows(store.exam)) == number


def test_two_who_add_to_one_exam_cannot_lose_each_others_entries(journal: Journal) -> None:
    store, session = dictated(journal)
    other = journal.reopen(store.exam)
    event = session.state.events[-1].model_copy(update={"number": other.record.next_number})  # type: ignore[union-attr]
    other.append(event)

    with pytest.raises(ExamMovedOnError, match="open it again"):
        store.append(event)
    moved = list[bool]()
    session.on_moved = lambda: moved.append(True)
    session.type_line("left eye")

    assert moved == [True]
    assert len(journal.rows(store.exam)) == 13
    assert journal.exam(store.exam).state == session.state


def test_what_was_kept_though_nobody_could_tell_is_not_entered_twice(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The answer to a commit is lost, and the record cannot be asked either; later the same is given again."""
    store, session = dictated(journal)
    count = len(journal.rows(store.exam))
    writing = Database.writing

    @contextmanager
    def answer_lost(database: Database, **how: bool) -> Iterator[Connection]:
        with writing(database, **how) as connection:
            yield connection
        raise RecordUnreachableError("no answer")

    with monkeypatch.context() as patch:
        patch.setattr(Database, "writing", answer_lost)
        patch.setattr(ExamStore, "_is_kept", lambda *_: False)
        with not_kept(RecordUnreachableError):
            session.type_line("scratch that")
    assert session.type_line("scratch that").number == count
    assert len(journal.rows(store.exam)) == count + 1
    assert journal.exam(store.exam).state == session.state
    session.type_line("scratch that")
    assert len(journal.rows(store.exam)) == count + 2


def test_after_attesting_only_words_can_be_added(journal: Journal) -> None:
    store, session = dictated(journal, at=MORNING)
    number = store.record.next_number  # type: ignore[union-attr]
    store.append(Attested(number=number, at=NOON, by="AB"))

    with pytest.raises(AttestedError, match=r"attested by AB on 2025-11-25"):
        store.append(session.state.events[-1].model_copy(update={"number": number + 1}))
    with not_kept(AttestedError):
        session.type_line("left eye")
    store.append(Addendum(number=number + 1, at=NOON, by="CD", text="seen again"))

    assert [type(event).__name__ for event in journal.exam(store.exam).events[-2:]] == [
        "Attested",
        "Addendum",
    ]


def test_a_lost_answer_to_a_commit_is_looked_up(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """The commit is done, but its answer never comes: the event is there, and so it is acknowledged."""
    store, session = dictated(journal)
    engine = journal.database.engine
    commit = engine.dialect.do_commit

    def commit_and_fail(connection: object) -> None:
        commit(connection)  # type: ignore[arg-type]
        monkeypatch.setattr(engine.dialect, "do_commit", commit)
        raise OperationalError("COMMIT", {}, sqlite3.OperationalError("the line went dead"))

    monkeypatch.setattr(engine.dialect, "do_commit", commit_and_fail)
    session.type_line("left eye")

    assert journal.exam(store.exam).state == session.state


def test_a_failed_commit_has_not_happened(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    store, session = dictated(journal)
    engine, before = journal.database.engine, session.state
    commit = engine.dialect.do_commit

    def fail(connection: object) -> None:
        raise OperationalError("COMMIT", {}, sqlite3.OperationalError("disk I/O error"))

    monkeypatch.setattr(engine.dialect, "do_commit", fail)
    with not_kept(RecordError):
        session.type_line("left eye")
    assert session.state == before
    monkeypatch.setattr(engine.dialect, "do_commit", commit)
    session.type_line("left eye")

    assert journal.exam(store.exam).state == session.state


def test_who_holds_the_record_too_long_is_not_waited_for(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With the wait shortened; test_processes measures the real one."""
    monkeypatch.setattr("voicelog.record.databases.WAIT_MS", 200)
    with Journal.open(folder) as journal:
        store, session = dictated(journal)
        with closing(sqlite3.connect(folder / "voicelog.db", isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            with not_kept(RecordBusyError, match="another process"):
                session.type_line("left eye")
            assert journal.exam(store.exam).state == session.state  # readers never wait
            other.execute("ROLLBACK")
        session.type_line("left eye")

        assert journal.exam(store.exam).state == session.state


def test_a_file_that_is_no_record_is_said_to_be_none(folder: Path) -> None:
    folder.mkdir()
    (folder / "voicelog.db").write_bytes(b"this is a letter, not a database\n" * 200)

    with pytest.raises(RecordDamagedError, match="restore a backup"):
        Journal.open(folder)


def test_a_disk_without_write_ahead_is_refused(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """As over a network; SQLite then stays in the mode it was in."""
    monkeypatch.setattr("voicelog.record.databases._to_write_ahead", lambda connection: "delete")

    with pytest.raises(RecordError, match="use a local disk"):
        Journal.open(folder)


def test_exams_are_listed_and_found(journal: Journal) -> None:
    names = [
        dictated(journal, reference=reference, at=MORNING + timedelta(days=day), lines=lines)[0].exam
        for day, (reference, lines) in enumerate(
            [("4711", ("right eye",)), ("Müller 4712", ()), ("100%_sure", ()), ("Straße 9", ())]
        )
    ]

    def listed(**wanted: object) -> list[str]:
        return [each.id for each in journal.overviews(Wanted(**wanted))]  # type: ignore[arg-type]

    assert listed() == names[::-1]
    assert listed(limit=2) == [names[3], names[2]]
    assert listed(since=MORNING + timedelta(days=1)) == [names[3], names[2], names[1]]
    assert listed(until=MORNING + timedelta(days=1)) == [names[0]]
    assert listed(reference="471") == [names[1], names[0]]
    assert listed(reference="MÜLLER") == [names[1]]
    assert listed(reference="mu\u0308ller") == [names[1]]  # the same letter, put together
    assert listed(reference="%") == [names[2]]
    assert listed(reference="_") == [names[2]]
    assert listed(reference="strasse") == [names[3]]
    assert journal.find("last") == names[3]
    assert journal.find("4711") == names[0]
    assert journal.find(names[1]) == names[1]
    assert journal.find(names[2][:12]) == names[2]
    with pytest.raises(NoSuchExamError, match="no exam"):
        journal.find("471")
    with pytest.raises(NoSuchExamError, match="say which"):
        journal.find("2025")
    with pytest.raises(NoSuchExamError):
        journal.overviews(Wanted(reference="\u202e"))


@pytest.mark.parametrize(
    "wanted",
    [
        Wanted(),
        Wanted(since=MORNING, until=NOON),
        Wanted(unresolved=True),
        Wanted(to_do=True),
        Wanted(to_do=False, skip=50),
        Wanted(reference="471"),
        Wanted(reference="471", to_do=True),
        Wanted(reference="471", to_do=False),
    ],
)
def test_which_exams_to_list_is_read_from_an_index_alone(journal: Journal, wanted: Wanted) -> None:
    """SQLite's own account of how it goes about it; the rows of those that are shown come after."""
    query = str(listing(wanted).compile(dialect=sqlite_dialect(), compile_kwargs={"literal_binds": True}))
    with journal.database.reading() as connection:
        plan = [row[3] for row in connection.execute(text(f"EXPLAIN QUERY PLAN {query}"))]

    chosen = plan[plan.index("LIST SUBQUERY 1") + 1]
    assert "USING COVERING INDEX exam_" in chosen


def test_reading_ahead_hurts_nobody(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    dictated(journal)
    journal.read_ahead()

    def damaged(_: Wanted) -> list[object]:
        raise RecordDamagedError("the file is damaged")

    monkeypatch.setattr(journal, "overviews", damaged)
    journal.read_ahead()


def test_the_same_reference_twice_is_asked_about(journal: Journal) -> None:
    for _ in range(2):
        dictated(journal, (), reference="4711")

    with pytest.raises(NoSuchExamError, match=r"fits .*: say which"):
        journal.find("4711")


@pytest.mark.parametrize(
    ("lines", "unresolved"),
    [
        ((), True),
        (("right eye", "streak vertical neutral at plus one", "working distance 67"), True),
        (("right eye", "streak vertical neutral at one"), True),
        (
            (
                "working distance 67",
                "right eye",
                "streak 90 neutral at plus one",
                "streak 180 neutral at plus one",
            ),
            False,
        ),
    ],
    ids=["nothing read", "one meridian", "asked", "solved"],
)
def test_open_points_are_listed(journal: Journal, lines: tuple[str, ...], unresolved: bool) -> None:
    store, _ = dictated(journal, lines)

    assert [each.id for each in journal.overviews(Wanted(unresolved=True))] == [store.exam] * unresolved
    assert bool(journal.exam(store.exam).unresolved) is unresolved


def test_opening_loads_no_migration_machinery_when_there_is_nothing_to_do(folder: Path) -> None:
    Journal.open(folder).close()
    code = (
        "import sys, pathlib; from voicelog.record.journal import Journal; "
        f"Journal.open(pathlib.Path({str(folder)!r})).close(); print('alembic' in sys.modules)"
    )

    shown = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert shown.stdout.strip() == "False"
