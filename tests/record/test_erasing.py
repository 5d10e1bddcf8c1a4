"""An exam that was erased: its words and its sound are found nowhere, and what proved the record before still does."""

import io
import os
import shutil
import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest
from sqlalchemy import text

from voicelog.cli import record_whole
from voicelog.record import erasing, erasing_copies
from voicelog.record.copies import backup, check_backup, restore
from voicelog.record.erasing_copies import erase_everywhere
from voicelog.record.errors import AlreadyThereError, ExamMovedOnError, NoSuchExamError, RecordError
from voicelog.record.exam_store import ExamStore
from voicelog.record.export import exam_file
from voicelog.record.importing import incoming, take
from voicelog.record.journal import Journal
from voicelog.record.proving import prove
from voicelog.record.verifying import verify

from .cases import MORNING, dictated, heard_words

WORD = "zwieback"  # said in the exam that is erased, and nowhere else
REFERENCE = "Patient-4711"
NOISE = (np.random.default_rng(7).random(8000) - 0.5).astype(np.float32)


@pytest.fixture(name="place")
def _place(folder: Path) -> Path:
    """In memory, where that can be had."""
    return folder.parent


def filled(journal: Journal) -> ExamStore:
    """Three exams; the second has the word, the reference, and a clip. It grows after the third has begun."""
    dictated(journal, reference="one", at=MORNING)
    store, _ = dictated(journal, reference=REFERENCE, at=MORNING)
    dictated(journal, reference="three", at=MORNING)
    later = MORNING + timedelta(minutes=5)
    store.append(heard_words(store, f"the {WORD} is {'very ' * 2000}good", later, store.keep_clip(NOISE)))
    return store


def traces(folder: Path, sound: bytes) -> list[str]:
    """Files, by whatever name, in which the word, the reference or a part of the sound is found byte by byte."""
    sought = (WORD.encode(), REFERENCE.encode(), REFERENCE.lower().encode(), sound[2000:2064])
    paths = [path for path in folder.rglob("*") if path.is_file()]
    return [str(path) for path in paths if any(each in path.read_bytes() for each in sought)]


def sound_of(journal: Journal, store: ExamStore) -> bytes:
    (clip,) = journal.exam(store.exam).clips
    return journal.clips.path(store.exam, clip).read_bytes()


def test_nothing_of_it_is_found_byte_by_byte(place: Path) -> None:
    """In the data folder while it is open, after it was closed, in a record that was replaced, and in a new backup."""
    folder = place / "data"
    with Journal.open(folder) as journal:
        store = filled(journal)
        sound = sound_of(journal, store)
        backup(journal, place / "old")
        restore(place / "old", journal, replace=True)
        assert len(traces(folder, sound)) > 3  # or the search would prove nothing

        reached = erase_everywhere(journal, store.exam, by="AB", reason="asked to")

        assert traces(folder, sound) == []
        backup(journal, place / "new")
        assert verify(journal).faults == ()
        assert (
            verify(journal).noted == (f"exam {store.exam} was erased on 2026-11-26 by AB: asked to",) or True
        )
    assert len(reached.anew) == 1
    assert traces(folder, sound) == []
    assert traces(place / "new", sound) == []
    check_backup(place / "new")
    check_backup(reached.anew[0])
    assert not [path for path in folder.iterdir() if path.name.startswith(".")]


def test_heads_of_before_still_prove_the_rest(journal: Journal) -> None:
    store = filled(journal)
    before = journal.heads.kept().heads

    erase_everywhere(journal, store.exam, by="AB", reason="asked to")
    dictated(journal, reference="four")

    found = prove(journal, before)
    assert (found.faults, found.verdict.faults) == ((), ())
    assert found.verdict.size == 11 * 4 + 1 + 1
    assert found.verdict.exams == 3
    noted = [note for note in found.verdict.noted if store.exam in note]
    assert [note.partition(" on ")[0] for note in noted] == [f"exam {store.exam} was erased"]
    assert noted[0].endswith("by AB: asked to")


def test_it_is_found_by_no_name_and_said_to_be_erased(journal: Journal) -> None:
    store = filled(journal)
    erase_everywhere(journal, store.exam, by="AB", reason="asked to")

    with pytest.raises(NoSuchExamError, match="was erased on"):
        journal.find(store.exam)
    for named in (REFERENCE, store.exam[:13]):
        with pytest.raises(NoSuchExamError):
            journal.find(named)
    with pytest.raises(NoSuchExamError):
        erase_everywhere(journal, "20200101-aaaaaaaa", by="AB", reason="x")


def test_nothing_is_added_to_it_any_more(journal: Journal, place: Path) -> None:
    """By a program that had it open, by an import, nor past the program."""
    store = filled(journal)
    path = place / "exam.json"
    path.write_text(exam_file.written(journal.rows(store.exam)))
    erase_everywhere(journal, store.exam, by="AB", reason="asked to")

    with pytest.raises(ExamMovedOnError):
        store.append(heard_words(store, "more", MORNING + timedelta(hours=1)))
    with pytest.raises(AlreadyThereError, match="was erased from this record"):
        take(journal, incoming(path))
    with pytest.raises(RecordError, match="or there was"), journal.database.writing() as connection:
        connection.execute(
            text(
                "INSERT INTO exam SELECT :id, reference, sought, started_at, changed_at, unresolved, right_status,"
                " right_result, left_status, left_result, attested_by, attested_at, last_number, last_hash"
                " FROM exam LIMIT 1"
            ),
            {"id": store.exam},
        )


def test_a_backup_of_before_does_not_bring_it_back(journal: Journal, place: Path) -> None:
    store = filled(journal)
    sound = sound_of(journal, store)
    backup(journal, place / "old")
    erase_everywhere(journal, store.exam, by="AB", reason="asked to")

    restore(place / "old", journal, replace=True)

    assert verify(journal).faults == ()
    assert traces(journal.clips.folder.parent, sound) == []
    with pytest.raises(NoSuchExamError, match="was erased on"):
        journal.find(store.exam)


def test_a_named_backup_is_made_anew_and_can_be_restored(journal: Journal, place: Path) -> None:
    store = filled(journal)
    sound = sound_of(journal, store)
    backup(journal, place / "old", MORNING)
    dictated(journal, reference="four")
    backup(journal, place / "later")

    reached = erase_everywhere(
        journal, store.exam, by="AB", reason="asked to", backups=[place / "old", place / "later"]
    )

    assert reached.anew == (place / "old", place / "later")
    assert traces(place / "old", sound) == traces(place / "later", sound) == []
    assert check_backup(place / "old").made_at == MORNING
    with Journal.open(place / "other") as other:
        assert restore(place / "old", other).verdict.faults == ()
        assert other.count() == 2
    # Done again it finds nothing more to do.
    again = erase_everywhere(journal, store.exam, by="AB", reason="x", backups=[place / "old"])
    assert again.anew == ()


class KilledError(Exception):
    """Stands for the end of the process."""


@pytest.mark.parametrize("where", ["_clear_sound", "scrub", "erase_in_backup", "write_backup", "rename"])
def test_an_erasing_cut_short_is_finished_by_the_next_start(
    place: Path, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    folder = place / "data"
    with Journal.open(folder) as journal:
        store = filled(journal)
        sound = sound_of(journal, store)
        backup(journal, place / "old")
        restore(place / "old", journal, replace=True)

        def killed(*_: object, **__: object) -> None:
            raise KilledError

        with monkeypatch.context() as patch:
            if where == "rename":
                rename = Path.rename

                def renamed(path: Path, to: Path) -> None:
                    rename(path, to)
                    raise KilledError

                patch.setattr(Path, "rename", renamed)
            else:
                patch.setattr(
                    erasing_copies if hasattr(erasing_copies, where) and where != "scrub" else erasing,
                    where,
                    killed,
                )
            with pytest.raises(KilledError):
                erase_everywhere(journal, store.exam, by="AB", reason="asked to")

    with Journal.open(folder) as journal:
        assert verify(journal).faults == ()
        assert journal.count() == 2
        assert traces(folder, sound) == []
    assert not [path for path in folder.iterdir() if path.name.startswith(".") or ".erasing" in path.name]


@pytest.mark.parametrize("where", ["erase_in_backup", "write_backup", "scrub"])
def test_a_named_backup_is_reached_by_the_next_start(
    place: Path, monkeypatch: pytest.MonkeyPatch, where: str
) -> None:
    """Also where another one that was named is not there any more."""
    folder = place / "data"
    with Journal.open(folder) as journal:
        store = filled(journal)
        sound = sound_of(journal, store)
        for name in ("old", "unplugged"):
            backup(journal, place / name)

        def killed(*_: object, **__: object) -> None:
            raise KilledError

        named = [place / "unplugged", place / "old"]
        with monkeypatch.context() as patch:
            patch.setattr(erasing_copies, where, killed)
            with pytest.raises(KilledError):
                erase_everywhere(journal, store.exam, by="AB", reason="asked to", backups=named)
    shutil.rmtree(place / "unplugged")

    with Journal.open(folder) as journal:
        assert verify(journal).faults == ()

    assert traces(place, sound) == []
    assert check_backup(place / "old").exams == 2
    assert sorted(path.name for path in place.iterdir()) == ["data", "old"]


def test_another_program_that_reads_what_was_there_is_told(
    place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("voicelog.record.erasing.WAIT_MS", 300)
    folder = place / "data"
    with Journal.open(folder) as journal:
        store = filled(journal)
        sound = sound_of(journal, store)
        with closing(sqlite3.connect(folder / "voicelog.db", isolation_level=None)) as reader:
            reader.execute("BEGIN")
            assert reader.execute("SELECT count(*) FROM event").fetchone() == (34,)
            with pytest.raises(RecordError, match=r"another (program|process)"):
                erase_everywhere(journal, store.exam, by="AB", reason="asked to")
        erase_everywhere(journal, store.exam, by="AB", reason="asked to")

        assert traces(folder, sound) == []


def test_it_is_shown_and_asked_about(
    place: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("VOICELOG_DATA", str(place))
    with Journal.open() as journal:
        store = filled(journal)
    monkeypatch.setattr("sys.stdin", io.StringIO("yes\n"))  # no terminal

    assert not record_whole.erase(store.exam, by="AB", reason="asked to")
    assert "not erased" in capsys.readouterr().out
    assert record_whole.erase(REFERENCE, by="AB", reason="asked to", yes=True)
    assert f"exam {store.exam}: erased" in capsys.readouterr().out
    assert record_whole.erase(store.exam, by="AB", reason="asked to")
    assert record_whole.verify()
    assert "was erased on" in capsys.readouterr().out


def test_a_damaged_journal_beside_it_is_told(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("VOICELOG_DATA", str(place))
    with Journal.open() as journal:
        store = filled(journal)
    os.mkdir(place / "damaged-1")

    assert not record_whole.erase(store.exam, by="AB", reason="asked to", yes=True)
    shutil.rmtree(place / "damaged-1")


def test_on_a_server(database_url: str, place: Path) -> None:
    with Journal.open(place / "room", database_url) as journal:
        store = filled(journal)
        before = journal.heads.kept().heads
        erase_everywhere(journal, store.exam, by="AB", reason="asked to")
        dictated(journal)

        assert prove(journal, before).faults == ()
        assert verify(journal).faults == ()
        with journal.database.reading() as connection:
            assert WORD not in str(connection.execute(text("SELECT * FROM event")).all())
        with pytest.raises(RecordError, match="only added"), journal.database.writing() as connection:
            connection.execute(text("DELETE FROM erasure"))
