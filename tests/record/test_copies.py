"""Backups: made while the record is in use, checked, and restored only when they are whole."""

import hashlib
import json
import sqlite3
import stat
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from voicelog.record.copies import backup, check_backup, open_to_restore, restore
from voicelog.record.errors import ExamMovedOnError, RecordDamagedError, RecordError
from voicelog.record.journal import Journal
from voicelog.record.verifying import verify

from .cases import MORNING, dictated, heard_words, past_the_program

NOISE = (np.random.default_rng(2).random(8000) - 0.5).astype(np.float32)


def filled(journal: Journal) -> str:
    """Two exams, one with a clip."""
    dictated(journal, reference="one", at=MORNING)
    store, _ = dictated(journal, reference="two", at=MORNING + timedelta(hours=1))
    store.append(heard_words(store, "talk", MORNING + timedelta(hours=2), store.keep_clip(NOISE)))
    return store.exam


def test_a_backup_is_a_whole_checked_copy(journal: Journal, tmp_path: Path) -> None:
    """Made while an exam is open; its file can be read with nothing but SQLite."""
    exam = filled(journal)
    target = tmp_path / "copy"

    done = backup(journal, target, MORNING)

    assert done.verdict.faults == ()
    assert done.verdict.missing_clips == ()
    assert (done.verdict.exams, done.verdict.events, done.verdict.clips) == (2, 23, 1)
    assert done.verdict.digest == verify(journal).digest
    assert sorted(path.name for path in target.iterdir()) == ["backup.json", "clips", "voicelog.db"]
    assert {stat.S_IMODE(path.stat().st_mode) for path in target.rglob("*") if path.is_file()} == {0o600}
    manifest = json.loads((target / "backup.json").read_text())
    for name, wanted in manifest["files"].items():
        assert hashlib.sha256((target / name).read_bytes()).hexdigest() == wanted
    assert (manifest["exams"], manifest["events"], manifest["digest"]) == (2, 23, done.verdict.digest)
    with closing(sqlite3.connect(f"file:{target}/voicelog.db?mode=ro", uri=True)) as plain:
        found = plain.execute("SELECT body FROM event WHERE exam = ? ORDER BY number", (exam,)).fetchall()
        assert plain.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert [row[0] for row in found] == [row.body for row in journal.rows(exam)]


def test_a_backup_goes_to_a_new_folder_only(journal: Journal, tmp_path: Path) -> None:
    (tmp_path / "letter.txt").write_text("mine")

    with pytest.raises(RecordError, match="not empty"):
        backup(journal, tmp_path)


def test_a_record_with_a_fault_is_copied_with_it(journal: Journal, folder: Path, tmp_path: Path) -> None:
    """Better a copy of a faulty record than none; the fault is said."""
    exam = filled(journal)
    with past_the_program(folder / "voicelog.db") as connection:
        connection.execute("UPDATE event SET body = '{}' WHERE exam = ? AND number = 3", (exam,))

    done = backup(journal, tmp_path / "copy")

    assert [(fault.exam, fault.number) for fault in done.verdict.faults] == [(exam, 3)]
    with Journal.open(tmp_path / "other") as other, pytest.raises(RecordError, match="has faults"):
        restore(tmp_path / "copy", other)


def test_a_restored_record_is_the_same(journal: Journal, tmp_path: Path) -> None:
    exam = filled(journal)
    before, clips = journal.exam(exam), set(journal.exam(exam).clips)
    backup(journal, tmp_path / "copy")

    with Journal.open(tmp_path / "new") as new:
        done = restore(tmp_path / "copy", new)

        assert done.kept is None
        assert done.verdict.digest == verify(journal).digest
        assert done.verdict.missing_clips == ()
        assert new.exam(exam) == before
        assert {path.stem for path in (tmp_path / "new").rglob("*.flac")} == clips
        dictated(new)  # and it can be gone on with
        assert verify(new).faults == ()
    check_backup(tmp_path / "copy")
    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == ["clips", "voicelog.db"]


def test_a_record_is_replaced_only_when_told_and_is_kept(journal: Journal, tmp_path: Path) -> None:
    """Somebody who still has an exam open is told that it moved on, and nothing of theirs gets in by mistake."""
    filled(journal)
    backup(journal, tmp_path / "copy")
    wanted = verify(journal).digest
    _, session = dictated(journal, reference="later")
    later = verify(journal).digest

    with pytest.raises(RecordError, match=r"holds 3 exams: say --replace"):
        restore(tmp_path / "copy", journal)
    assert verify(journal).digest == later
    done = restore(tmp_path / "copy", journal, replace=True)

    assert verify(journal).digest == wanted
    assert done.kept is not None
    assert check_backup(done.kept).digest == later
    with pytest.raises(ExamMovedOnError):
        session.type_line("left eye")


@pytest.mark.parametrize("damage", ["file", "manifest", "missing file", "missing manifest", "other form"])
def test_a_backup_that_was_touched_is_not_restored(journal: Journal, tmp_path: Path, damage: str) -> None:
    filled(journal)
    target = tmp_path / "copy"
    backup(journal, target)
    manifest = target / "backup.json"
    match damage:
        case "file":
            path = next(target.rglob("*.flac"))
            path.write_bytes(path.read_bytes()[:-1] + b"\0")
        case "manifest":
            manifest.write_text("{")
        case "missing file":
            next(target.rglob("*.flac")).unlink()
        case "missing manifest":
            manifest.unlink()
        case "other form":
            manifest.write_text(manifest.read_text().replace("voicelog-backup", "something"))

    with Journal.open(tmp_path / "new") as new:
        with pytest.raises(RecordError) as raised:
            restore(target, new, replace=True)
        assert new.count() == 0
    assert "\n" not in str(raised.value)


def test_a_manifest_cannot_point_outside_its_folder(journal: Journal, tmp_path: Path) -> None:
    filled(journal)
    backup(journal, tmp_path / "copy")
    path = tmp_path / "copy" / "backup.json"
    data = json.loads(path.read_text())
    (tmp_path / "secret").write_text("x")
    data["files"]["../secret"] = hashlib.sha256(b"x").hexdigest()
    path.write_text(json.dumps(data))

    with pytest.raises(RecordError, match="secret is missing"):
        check_backup(tmp_path / "copy")


def test_a_damaged_record_is_moved_aside_for_a_backup(journal: Journal, tmp_path: Path) -> None:
    exam = filled(journal)
    backup(journal, tmp_path / "copy")
    data = tmp_path / "damaged"
    data.mkdir()
    (data / "voicelog.db").write_bytes(b"not a database" * 500)

    with pytest.raises(RecordDamagedError):
        open_to_restore(data, None, replace=False)
    with open_to_restore(data, None, replace=True) as again:
        restore(tmp_path / "copy", again)
        assert again.exam(exam).events
    (aside,) = data.glob("damaged-*")
    assert (aside / "voicelog.db").read_bytes().startswith(b"not a database")
