"""The same journal on PostgreSQL, for several rooms; on a real server that the fixtures start."""

import contextlib
import os
import signal
import threading
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text

from voicelog.errors import MissingPartError, VoicelogError
from voicelog.exam.events import Line
from voicelog.hearing.engines.protocol import Hearing
from voicelog.live.entering import Entering
from voicelog.live.taking import ExamTaker
from voicelog.live.told import Counts, Told
from voicelog.record import log
from voicelog.record.copies import backup, restore
from voicelog.record.databases import open_server
from voicelog.record.errors import (
    AttestedError,
    ExamMovedOnError,
    NoSuchExamError,
    RecordBusyError,
    RecordError,
    RecordFullError,
    RecordReadOnlyError,
    RecordUnreachableError,
    record_error,
)
from voicelog.record.events import Attested
from voicelog.record.journal import Journal
from voicelog.record.listing import Wanted
from voicelog.record.storing import NotKeptError
from voicelog.record.tables import metadata
from voicelog.record.verifying import verify

from .cases import MORNING, NOON, dictated, heard_words, not_kept
from .test_processes import check, written_together

HOSTILE = "../x \"q\" 'r' \u202egnp.exe \x00\x1b[31m \ud800 %_\\ 가"
NOISE = (np.random.default_rng(2).random(8000) - 0.5).astype(np.float32)


@pytest.fixture(name="room")
def _room(database_url: str, tmp_path: Path) -> Iterator[Journal]:
    with Journal.open(tmp_path / "room", database_url) as journal:
        yield journal


def test_migrations_make_the_tables_that_the_queries_use(room: Journal) -> None:
    with room.database.reading() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_an_exam_comes_back_as_it_was(room: Journal, database_url: str, tmp_path: Path) -> None:
    """In another room, with a reference that no database likes."""
    store, session = dictated(room, reference=HOSTILE, at=MORNING)

    with Journal.open(tmp_path / "other", database_url) as other:
        record = other.exam(store.exam)
        assert record.state == session.state
        assert record.started.reference == HOSTILE
        assert [each.id for each in other.overviews(Wanted(reference="GNP"))] == [store.exam]
        assert [each.id for each in other.overviews(Wanted(reference="%_\\"))] == [store.exam]
        assert other.overviews(Wanted(reference="nobody")) == []
        assert verify(other).faults == ()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE event SET body = '{}'",
        "UPDATE event SET body = '{}' WHERE number = -5",
        "DELETE FROM event",
        "TRUNCATE event",
        "TRUNCATE exam CASCADE",
        "INSERT INTO event SELECT exam, 99, at, kind, body, hash FROM event WHERE number = 3",
        "INSERT INTO event SELECT * FROM event WHERE number = 3"
        " ON CONFLICT (exam, number) DO UPDATE SET body = '{}'",
        "DELETE FROM exam",
        "UPDATE exam SET id = 'other'",
    ],
)
def test_what_is_kept_cannot_be_changed(room: Journal, statement: str) -> None:
    store, _ = dictated(room, at=MORNING)
    before = room.rows(store.exam)

    with (
        pytest.raises(VoicelogError, match=r"only added|at the end|cannot truncate"),
        room.database.writing() as connection,
    ):
        connection.execute(text(statement))

    assert room.rows(store.exam) == before


def documented(start: str) -> list[str]:
    """The indented SQL of docs/record.md after a line that begins with `start`."""
    text = (Path(__file__).parents[2] / "docs" / "record.md").read_text(encoding="utf-8")
    block = text[text.index(start) :].split("\n\n")[1]
    return [line.strip() for line in block.splitlines()]


def test_a_rooms_own_role_needs_no_more_rights_than_documented(
    database_url: str, server: str, tmp_path: Path
) -> None:
    """As docs/record.md says: with them it can add to the record, and cannot take the guards off."""
    psycopg = pytest.importorskip("psycopg")
    as_room = database_url.replace("tests@", "room@")
    with psycopg.connect(database_url, autocommit=True) as owner:
        owner.execute("DROP ROLE IF EXISTS room")
        owner.execute("CREATE ROLE room LOGIN")
        owner.execute("GRANT CREATE ON SCHEMA public TO room")
        Journal.open(tmp_path / "first", as_room).close()
        for statement in documented("what rooms need"):
            owner.execute(statement.replace("TO postgres", "TO tests"))
    try:
        with Journal.open(tmp_path / "room", as_room) as room:
            store, session = dictated(room, at=MORNING)
            assert room.exam(store.exam).state == session.state
            assert verify(room).faults == ()
            for statement in (
                "ALTER TABLE event DISABLE TRIGGER ALL",
                "DROP TRIGGER event_not_changed ON event",
                "DROP FUNCTION voicelog_refuse CASCADE",
                "CREATE OR REPLACE FUNCTION voicelog_refuse() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN OLD; END'",
                "ALTER FUNCTION voicelog_refuse OWNER TO room",
                "ALTER TABLE event OWNER TO room",
                "CREATE RULE nothing AS ON INSERT TO leaf DO INSTEAD NOTHING",
                "TRUNCATE leaf",
                "DROP TABLE event CASCADE",
                "DROP SCHEMA public CASCADE",
                "UPDATE leaf SET leaf = tree",
                "DELETE FROM salt",
                "UPDATE event SET body = '{}'",
                "DELETE FROM exam",
            ):
                with pytest.raises(RecordReadOnlyError), room.database.writing() as connection:
                    connection.execute(text(statement))
    finally:
        with psycopg.connect(database_url, autocommit=True) as owner:
            owner.execute("DROP OWNED BY room")
            owner.execute("DROP ROLE room")


def test_a_change_past_the_guards_is_found(room: Journal) -> None:
    store, _ = dictated(room, at=MORNING)
    with room.database.writing() as connection:
        connection.execute(text("ALTER TABLE event DISABLE TRIGGER ALL"))
        connection.execute(text("UPDATE event SET body = replace(body, 'minus', 'plus') WHERE number = 3"))

    faults = [str(fault) for fault in verify(room).faults]

    assert "the trigger event_not_changed is not there" in faults
    assert any(fault.startswith(f"exam {store.exam}, event 3: ") for fault in faults)


def test_two_rooms_cannot_lose_each_others_entries(room: Journal, database_url: str, tmp_path: Path) -> None:
    store, session = dictated(room, at=MORNING)
    with Journal.open(tmp_path / "other", database_url) as other:
        there = other.reopen(store.exam)
        there.append(Attested(number=there.record.next_number, at=NOON, by="AB"))  # type: ignore[union-attr]

    before = session.state
    with not_kept(AttestedError):
        session.type_line("left eye")
    assert session.state == before


def test_rooms_write_at_the_same_time(database_url: str, tmp_path: Path) -> None:
    """They also make the tables together: the database is empty when they begin."""
    found = written_together([tmp_path / "a", tmp_path / "b"], database_url, exams=8, events=5)

    with Journal.open(tmp_path / "c", database_url) as journal:
        check(journal, found, 8, 5)


def test_one_room_waits_for_another_only_so_long(
    database_url: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The lock on an exam's row, with the wait shortened."""
    monkeypatch.setattr("voicelog.record.databases.WAIT_MS", 300)
    with Journal.open(tmp_path, database_url) as room:
        store, session = dictated(room, at=MORNING)
        with room.database.engine.connect() as holder, holder.begin():
            holder.execute(text("SELECT * FROM exam FOR UPDATE"))
            with not_kept(RecordBusyError, match="another process"):
                session.type_line("left eye")
        session.type_line("left eye")

        assert room.exam(store.exam).state == session.state


def test_a_server_that_goes_away_is_said_and_come_back_to(room: Journal, server: str) -> None:
    """Its connections are cut in the middle of an exam, as by a restart."""
    store, session = dictated(room, at=MORNING)
    psycopg = pytest.importorskip("psycopg")
    with psycopg.connect(server, autocommit=True) as stranger:
        stranger.execute(
            "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname <> 'postgres' AND datname IS NOT NULL"
        )
    session.type_line("left eye")

    assert room.exam(store.exam).state == session.state


def test_no_server_is_one_clear_line(tmp_path: Path) -> None:
    start = time.monotonic()
    with pytest.raises(RecordUnreachableError) as raised:
        Journal.open(tmp_path, f"postgresql://user:secret@/voicelog?host={tmp_path}")

    assert time.monotonic() - start < 5
    assert "\n" not in str(raised.value)
    assert "secret" not in str(raised.value)


@pytest.mark.parametrize("used", [True, False], ids=["a connection that was used", "a new connection"])
def test_a_server_that_hangs_is_given_up_within_five_seconds(
    room: Journal, database_url: str, used: bool
) -> None:
    """Its processes are stopped, so that the sockets still take what is sent; then they go on, and nothing was kept."""
    store, session = dictated(room, at=MORNING)
    before = room.rows(store.exam)
    if not used:
        room.database.engine.dispose()
    stopped = server_processes(database_url)
    for process in stopped:
        with contextlib.suppress(ProcessLookupError):  # it has just ended by itself
            os.kill(process, signal.SIGSTOP)
    started = time.monotonic()
    try:
        with not_kept(RecordUnreachableError, match="nothing was kept of this entry"):
            session.type_line("acuity right eye six nine")
        took_s = time.monotonic() - started
    finally:
        for process in stopped:
            with contextlib.suppress(ProcessLookupError):
                os.kill(process, signal.SIGCONT)

    assert took_s < 5.5  # half a second for a busy machine
    assert room.rows(store.exam) == before
    session.type_line("acuity right eye six nine")
    assert len(room.rows(store.exam)) == len(before) + 1


def test_a_server_that_hangs_in_a_commit_is_given_up_too(
    room: Journal, database_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It may do the commit when it goes on; then the exam has moved on, and nothing is entered twice.

    The tests beside this one wait for it as long as the program does.
    """
    for place in ("patience", "exam_store"):
        monkeypatch.setattr(f"voicelog.record.{place}.LONGEST_S", 1.5)
    store, session = dictated(room, at=MORNING)
    before = room.rows(store.exam)
    stopped = server_processes(database_url)
    add = log.add

    def added(*given: object) -> log.Top:
        top = add(*given)  # type: ignore[arg-type]
        for process in stopped:
            os.kill(process, signal.SIGSTOP)
        return top

    started = time.monotonic()
    try:
        with monkeypatch.context() as patch:
            patch.setattr(log, "add", added)
            with not_kept(RecordUnreachableError):
                session.type_line("acuity right eye six nine")
        took_s = time.monotonic() - started
    finally:
        for process in stopped:
            os.kill(process, signal.SIGCONT)

    assert took_s < 4.0
    try:  # kept now, or found kept: the server may do the commit at any time after it goes on
        session.type_line("acuity right eye six nine")
    except NotKeptError as error:
        if not isinstance(error.__cause__, ExamMovedOnError):
            raise
    assert len(room.rows(store.exam)) == len(before) + 1
    assert verify(room).faults == ()


def test_what_is_said_while_the_server_hangs_is_held_shown_and_kept_in_order(
    room: Journal, database_url: str
) -> None:
    """Through the queue of a live exam: said to be not entered within five seconds, and nothing overtakes it."""
    store, session = dictated(room, at=MORNING)
    before = len(room.rows(store.exam))
    shown: list[tuple[float, str]] = []
    problems: list[str] = []
    told = Told(problem=problems.append, held=lambda text: shown.append((time.monotonic(), text)))
    entering = Entering(ExamTaker(session, ScriptedEngine()), told, Counts(), lambda *_: None)
    thread = threading.Thread(target=entering.run, args=(lambda: None,))
    stopped = server_processes(database_url)
    for process in stopped:
        os.kill(process, signal.SIGSTOP)
    try:
        thread.start()
        started = time.monotonic()
        for line in SAID_MEANWHILE:
            entering.type_line(line, "typed")
        wait_until(lambda: bool(shown))
        at, words = shown[0]
    finally:
        for process in stopped:
            os.kill(process, signal.SIGCONT)
    wait_until(lambda: not entering.busy)
    entering.end()
    thread.join(20)

    assert at - started < 5.5  # half a second for a busy machine
    assert words.startswith(SAID_MEANWHILE[0])
    assert "nothing was kept of this entry" in words
    assert (shown[-1][1], problems) == ("", [])
    lines = [each for each in room.exam(store.exam).events[before:] if isinstance(each, Line)]
    assert tuple(each.text for each in lines if each.left_out != "refused") == SAID_MEANWHILE
    assert [each.left_out for each in lines].count("refused") == 1
    assert verify(room).faults == ()


SAID_MEANWHILE = ("right eye", "acuity six nine", "left eye", "acuity six twelve")


class ScriptedEngine:
    """Nothing is heard in this test."""

    name = "none"

    def hear(self, samples: object, rule: str) -> Hearing:
        raise NotImplementedError


def wait_until(done: Callable[[], bool]) -> None:
    """Twenty seconds at most."""
    give_up = time.monotonic() + 20
    while not done():
        assert time.monotonic() < give_up
        time.sleep(0.02)


def server_processes(database_url: str) -> list[int]:
    """The server and all that it started, by its own file of its process."""
    place = Path(database_url.rpartition("host=")[2])
    (main,) = [int((place / "data" / "postmaster.pid").read_text().split()[0])]
    children = Path(f"/proc/{main}/task/{main}/children").read_text().split()
    return [main, *map(int, children)]


def test_a_database_of_another_encoding_is_refused(server: str, tmp_path: Path) -> None:
    psycopg = pytest.importorskip("psycopg")
    with psycopg.connect(server, autocommit=True) as stranger:
        stranger.execute("DROP DATABASE IF EXISTS latin")
        stranger.execute("CREATE DATABASE latin ENCODING 'LATIN1' TEMPLATE template0")

    with pytest.raises(RecordError, match="encoded in LATIN1"):
        Journal.open(tmp_path, server.replace("/postgres?", "/latin?"))


def test_how_the_server_is_reached_is_the_urls_to_say() -> None:
    """As docs/record.md has it: the driver is told of `sslmode`, and refuses what is none before it connects."""
    with pytest.raises(RecordError, match="sslmode") as raised:
        open_server("postgresql://user@localhost/voicelog?sslmode=nonsense")
    assert "\n" not in str(raised.value)


@pytest.mark.parametrize(
    ("address", "what"),
    [("no url", "no URL"), ("mysql://x/y", "not on mysql"), ("sqlite:///x", "not on sqlite")],
)
def test_other_addresses_are_refused(address: str, what: str) -> None:
    with pytest.raises(RecordError, match=what):
        open_server(address)


def test_without_its_driver_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(__import__("sys").modules, "psycopg", None)

    with pytest.raises(MissingPartError, match=r"voicelog\[postgres\]"):
        open_server("postgresql://x/y")


@pytest.mark.parametrize(
    ("state", "kind"),
    [
        ("53100", RecordFullError),
        ("25006", RecordReadOnlyError),
        ("42501", RecordReadOnlyError),
        ("55P03", RecordBusyError),
        ("57P01", RecordUnreachableError),
        ("22021", RecordError),
    ],
)
def test_states_of_the_server_are_told_apart(state: str, kind: type[RecordError]) -> None:
    """SQLSTATEs of PostgreSQL's documentation, appendix A: disk_full, read_only_sql_transaction and so on."""
    psycopg = pytest.importorskip("psycopg")
    error = psycopg.errors.lookup(state)("first line\nsecond line")

    found = record_error(error, "the server")

    assert type(found) is kind
    assert "\n" not in str(found)


def test_a_backup_goes_to_a_file_and_from_it_to_any_database(
    room: Journal, server: str, tmp_path: Path, database_url: str
) -> None:
    """Also the way from one room to several: a file's backup is restored to a server."""
    store, _ = dictated(room, reference=HOSTILE, at=MORNING)
    store.append(heard_words(store, "talk", MORNING + timedelta(days=400), store.keep_clip(NOISE)))
    wanted = verify(room).digest

    assert backup(room, tmp_path / "copy").verdict.digest == wanted
    with Journal.open(tmp_path / "file") as single:
        assert restore(tmp_path / "copy", single).verdict.digest == wanted
        assert single.exam(store.exam) == room.exam(store.exam)
    with pytest.raises(RecordError, match="restore to an empty database"):
        restore(tmp_path / "copy", room, replace=True)
    psycopg = pytest.importorskip("psycopg")
    with psycopg.connect(server, autocommit=True) as stranger:
        stranger.execute("DROP DATABASE IF EXISTS second")
        stranger.execute("CREATE DATABASE second")
    with Journal.open(tmp_path / "second", server.replace("/postgres?", "/second?")) as second:
        verdict = restore(tmp_path / "copy", second).verdict
        assert (verdict.digest, verdict.faults, verdict.missing_clips) == (wanted, (), ())
        dictated(second)


def test_another_rooms_clips_are_noted_as_missing(room: Journal, database_url: str, tmp_path: Path) -> None:
    """Sound stays in the room it was heard in."""
    store, _ = dictated(room, at=MORNING)
    store.append(heard_words(store, "talk", MORNING + timedelta(days=400), store.keep_clip(NOISE)))

    with Journal.open(tmp_path / "other", database_url) as other:
        verdict = verify(other)

    assert verdict.faults == ()
    assert len(verdict.missing_clips) == 1
    with pytest.raises(NoSuchExamError):
        room.find("nobody")
