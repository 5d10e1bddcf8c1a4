"""`verify` finds what somebody with the file in hands changed, and names the row."""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import astuple
from pathlib import Path
from random import Random

import pytest

from voicelog.record import verifying
from voicelog.record.chain import link, row_of
from voicelog.record.errors import RecordError
from voicelog.record.events import Attested, Written
from voicelog.record.exam_store import ExamStore
from voicelog.record.journal import Journal
from voicelog.record.tables import exam as exam_table
from voicelog.record.verifying import Verdict, refresh_list, verify

from .cases import MORNING, NOON, copied, dictated, past_the_program

EVENT_COLUMNS = ("exam", "number", "at", "kind", "body", "hash")


@pytest.fixture(scope="module", name="three")
def _three(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a record of three exams, the second attested; to be copied."""
    place = tmp_path_factory.mktemp("three") / "data"
    with Journal.open(place) as journal:
        dictated(journal, reference="first", at=MORNING)
        store, _ = dictated(journal, reference="second", at=MORNING)
        store.append(Attested(number=store.record.next_number, at=NOON, by="AB"))  # type: ignore[union-attr]
        dictated(journal, reference="third", at=MORNING)
    return place


@pytest.fixture(name="journal")
def _journal(folder: Path, three: Path) -> Iterator[Journal]:
    with copied(three, folder) as journal:
        yield journal


@pytest.fixture(name="store")
def _store(journal: Journal) -> ExamStore:
    """The second of the three exams."""
    return journal.reopen(journal.find("second"))


def test_a_record_as_it_was_written_has_no_fault(journal: Journal, store: ExamStore) -> None:
    verdict = verify(journal)

    assert verdict.faults == ()
    assert (verdict.exams, verdict.events, verdict.clips) == (3, 34, 0)
    assert len(verdict.digest) == 64


def changed(journal: Journal, folder: Path, statement: str, *values: object) -> Verdict:
    with past_the_program(folder / "voicelog.db") as connection:
        assert connection.execute(statement, values).rowcount == 1
    return verify(journal, deep=True)


@pytest.mark.parametrize("column", EVENT_COLUMNS)
def test_a_byte_changed_in_any_column_of_an_event_is_found(
    journal: Journal, folder: Path, store: ExamStore, tmp_path: Path, column: str
) -> None:
    """Bytes at random places of event 4, each changed to another; test_chain changes every one."""
    random = Random(column)
    good = str(getattr(journal.rows(store.exam)[4], column))
    journal.close()
    for trial in range(5):
        raw = bytearray(good.encode())
        raw[random.randrange(len(raw))] ^= random.randrange(1, 256)  # the result is often no text at all
        bad: object = random.choice([5, 77, -4]) if column == "number" else bytes(raw)
        copy = tmp_path / str(trial)
        copy.mkdir()
        shutil.copy(folder / "voicelog.db", copy)
        with past_the_program(copy / "voicelog.db") as connection:
            if bad == 5:
                connection.execute("DELETE FROM event WHERE exam = ? AND number = 5", (store.exam,))
            value = "?" if column == "number" else "CAST(? AS TEXT)"
            statement = f"UPDATE event SET {column} = {value} WHERE exam = ? AND number = 4"
            assert connection.execute(statement, (bad, store.exam)).rowcount == 1

        with Journal.open(copy) as changed_journal:
            faults = verify(changed_journal).faults

        assert any(fault.exam == store.exam and fault.number in (4, 5, bad) for fault in faults), (
            bad,
            faults,
        )


def exam_columns() -> list[str]:
    return [column.name for column in exam_table.columns]


@pytest.mark.parametrize("column", exam_columns())
def test_a_changed_row_of_the_list_is_found(
    journal: Journal, folder: Path, store: ExamStore, column: str
) -> None:
    with closing(sqlite3.connect(folder / "voicelog.db")) as connection:
        (good,) = connection.execute(f"SELECT {column} FROM exam WHERE id = ?", (store.exam,)).fetchone()
    bad = good + 2 if isinstance(good, int) else "x" + good[1:] if good else "x"

    faults = changed(journal, folder, f"UPDATE exam SET {column} = ? WHERE id = ?", bad, store.exam).faults

    assert any(store.exam in str(fault) for fault in faults)


@pytest.mark.parametrize(
    ("statement", "what"),
    [
        ("DELETE FROM event WHERE exam = ? AND number = 4", "event 4 is missing"),
        ("DELETE FROM event WHERE exam = ? AND number = 0", "event 0 is missing"),
        ("DELETE FROM event WHERE exam = ? AND number = 11", "says that its last event is 11; 10 is"),
        ("DELETE FROM exam WHERE id = ?", "missing in the list"),
    ],
)
def test_removed_rows_are_found(
    journal: Journal, folder: Path, store: ExamStore, statement: str, what: str
) -> None:
    faults = changed(journal, folder, statement, store.exam).faults

    assert [fault.exam for fault in faults] == [store.exam]
    assert what in faults[0].what


def test_an_exam_whose_events_are_gone_is_found(journal: Journal, folder: Path, store: ExamStore) -> None:
    with past_the_program(folder / "voicelog.db") as connection:
        connection.execute("DELETE FROM event WHERE exam = ?", (store.exam,))

    assert [str(fault) for fault in verify(journal).faults] == [f"exam {store.exam}: its events are gone"]


def test_a_whole_exam_taken_away_is_found(journal: Journal, folder: Path, store: ExamStore) -> None:
    """No chain can show that; the log does, and so does the digest."""
    before = verify(journal)
    with past_the_program(folder / "voicelog.db") as connection:
        connection.execute("DELETE FROM event WHERE exam = ?", (store.exam,))
        connection.execute("DELETE FROM exam WHERE id = ?", (store.exam,))
    after = verify(journal)

    assert [str(fault) for fault in after.faults] == [
        f"exam {store.exam}: events 0 to 11 gone: the log has what the record does not"
    ]
    assert after.digest != before.digest


def test_events_after_an_attestation_are_found(journal: Journal, folder: Path, store: ExamStore) -> None:
    """Written past the program, with hashes that fit."""
    rows = journal.rows(store.exam)
    said = store.record.events[1].model_copy(update={"number": len(rows)})  # type: ignore[union-attr]
    row = row_of(store.exam, said, rows[-1].hash)

    faults = changed(journal, folder, "INSERT INTO event VALUES (?, ?, ?, ?, ?, ?)", *astuple(row)).faults

    assert [fault.what for fault in faults] == [
        "it is not in the log",
        "the events make no exam: the exam was attested by AB on 2025-11-25: only an addendum can be added",
    ]


@pytest.mark.parametrize("column", ["right_result", "left_status", "unresolved"])
def test_what_an_older_program_worked_out_can_be_put_right(
    journal: Journal, folder: Path, store: ExamStore, column: str
) -> None:
    """Only what depends on how exams are worked out; never what comes from the events as they are."""
    good = verify(journal)
    faults = changed(journal, folder, f"UPDATE exam SET {column} = 7 WHERE id = ?", store.exam).faults
    assert [f"in {column} (verify --refresh" in fault.what for fault in faults] == [True]

    assert refresh_list(journal) == 1

    assert verify(journal) == good
    assert refresh_list(journal) == 0
    faults = changed(journal, folder, "UPDATE exam SET reference = 'x' WHERE id = ?", store.exam).faults
    refresh_list(journal)
    assert verify(journal).faults == faults
    assert "differs from its events in reference" in faults[0].what


def test_a_result_that_was_attested_otherwise_is_told(journal: Journal) -> None:
    """As when a later program rounds another way: what was vouched for is in the event."""
    store, _ = dictated(journal, at=MORNING)
    number = store.record.next_number  # type: ignore[union-attr]
    right = Written(sphere_d=-1.0, cylinder_d=-1.25, axis_deg=120)
    left = store.record.written("left")  # type: ignore[union-attr]
    store.append(Attested(number=number, at=NOON, by="AB", right=right, left=left))

    assert store.record.attested_otherwise == (  # type: ignore[union-attr]
        "right eye: attested as -1.00 -1.25 x 120, now worked out as -1.00 -1.50 x 120",
    )


def test_guards_that_were_taken_off_are_missed(journal: Journal, folder: Path) -> None:
    with closing(sqlite3.connect(folder / "voicelog.db")) as connection:
        connection.execute("DROP TRIGGER event_not_changed")
        connection.commit()

    assert [str(fault) for fault in verify(journal).faults] == ["the trigger event_not_changed is not there"]


def test_damaged_pages_are_found_or_hold_nothing(folder: Path) -> None:
    """A bit of the file itself: within an event it is found; anywhere else it is, or everything reads as before."""
    with Journal.open(folder) as journal:
        store, _ = dictated(journal, at=MORNING)
        good, rows = verify(journal), journal.rows(store.exam)
    path, random = folder / "voicelog.db", Random(3)
    content = path.read_bytes()
    within = [content.index(row.body.encode()) + random.randrange(len(row.body)) for row in rows]
    anywhere = [random.randrange(len(content)) for _ in range(20)]
    for place in (*within, *anywhere):
        raw = bytearray(content)
        raw[place] ^= 1 << random.randrange(8)
        path.write_bytes(raw)

        verdict = looked_at(folder)

        if place in within:
            assert verdict is None or verdict.faults, place
        else:
            assert verdict is None or verdict.faults or verdict.digest == good.digest, place


def looked_at(folder: Path) -> Verdict | None:
    """The verdict; None when the record cannot be opened at all, which is said as well."""
    try:
        with Journal.open(folder) as journal:
            return verify(journal)
    except RecordError:
        return None


def test_a_file_torn_apart_is_said_to_be_damaged(folder: Path) -> None:
    with Journal.open(folder) as journal:
        for _ in range(5):
            dictated(journal, at=MORNING)
    path = folder / "voicelog.db"
    raw = bytearray(path.read_bytes())
    raw[4096 : len(raw) - 4096] = bytes(len(raw) - 8192)
    path.write_bytes(raw)

    verdict = looked_at(folder)

    assert verdict is None or "damaged" in str(verdict.faults[0])


def test_without_deep_nothing_is_worked_out(
    journal: Journal, store: ExamStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Reading and hashing alone; what the list says of results is then not looked at."""
    told: list[tuple[int, int]] = []
    monkeypatch.setattr(verifying, "_TOLD_EVERY", 1)
    monkeypatch.setattr(verifying, "fold", None)

    verdict = verify(journal, progress=lambda done, total: told.append((done, total)))

    assert (verdict.faults, verdict.exams) == ((), 3)
    assert told == [(1, 3), (2, 3), (3, 3)]
    with pytest.raises(TypeError):
        verify(journal, deep=True)


def test_a_row_that_fits_its_hash_and_not_its_event_is_found(
    journal: Journal, folder: Path, store: ExamStore
) -> None:
    rows = journal.rows(store.exam)[:4]
    bad = rows[3].body.replace('"number":3', '"number":4')
    values = (store.exam, 3, rows[3].at, rows[3].kind, bad)
    new = link(rows[2].hash, *values)
    with past_the_program(folder / "voicelog.db") as connection:
        connection.execute(
            "UPDATE event SET body = ?, hash = ? WHERE exam = ? AND number = 3", (bad, new, store.exam)
        )

    (fault,) = verify(journal).faults

    assert (fault.exam, fault.number) == (store.exam, 3)
    assert fault.what == "number, kind or time of the row are not those of its event"
