"""Backups: made while the record is in use, checked, and restored only when they are whole."""

import errno
import hashlib
import json
import os
import sqlite3
import stat
import subprocess
import sys
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from voicelog.record import copies, leftovers
from voicelog.record.copies import backup, check_backup, open_to_restore, restore
from voicelog.record.errors import ExamMovedOnError, RecordDamagedError, RecordError
from voicelog.record.journal import Journal
from voicelog.record.verifying import verify

from .cases import MORNING, dictated, heard_words, not_kept, past_the_program

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
    names = ["backup.json", "clips", "head.svg", "head.txt", "voicelog.db"]
    assert sorted(path.name for path in target.iterdir()) == names
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
    assert left_in(tmp_path / "new") == ["clips", "voicelog.db"]


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
    with not_kept(ExamMovedOnError):
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


@pytest.mark.parametrize(
    ("name", "value", "what"),
    [
        ("exams", 3, "states exams 3, its journal has 2"),
        ("events", 22, "events 22"),
        ("digest", "0" * 64, "digest 0"),
    ],
)
def test_a_backup_that_states_something_else_is_not_restored(
    journal: Journal, tmp_path: Path, name: str, value: object, what: str
) -> None:
    filled(journal)
    backup(journal, tmp_path / "copy")
    path = tmp_path / "copy" / "backup.json"
    path.write_text(json.dumps(json.loads(path.read_text()) | {name: value}))

    with Journal.open(tmp_path / "new") as new:
        with pytest.raises(RecordError, match=what):
            restore(tmp_path / "copy", new)
        assert new.count() == 0
    assert left_in(tmp_path / "new") == ["voicelog.db"]


def left_in(folder: Path) -> list[str]:
    """What lies there besides what belongs to the database: its write-ahead file, the heads and their key."""
    aside = ("voicelog.db-", "voicelog.heads", "voicelog.tail", "voicelog.key")
    return sorted(path.name for path in folder.iterdir() if not path.name.startswith(aside))


class KilledError(Exception):
    """Stands for the end of the process: nothing of the restore goes on."""


@pytest.mark.parametrize("step", ["verify", "write_backup", "note", "_copy_clips", "_copy_file", "after"])
def test_a_restore_cut_short_leaves_one_of_the_two_records_whole(
    journal: Journal, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    """Cut at every step, with what its folder then holds; the next start clears it away."""
    exam = filled(journal)
    new = verify(journal).digest
    backup(journal, tmp_path / "copy")
    other = tmp_path / "other"
    with Journal.open(other) as there:
        store, _ = dictated(there, reference="other", at=MORNING)
        store.append(heard_words(store, "talk", MORNING, store.keep_clip(NOISE[:4000])))
        old = verify(there).digest
        with monkeypatch.context() as patched:
            patched.setattr(leftovers, "_clear", lambda *_: None)  # a killed process clears nothing
            if step == "after":
                restore(tmp_path / "copy", there, replace=True)
            else:
                real = getattr(copies, step)

                def cut(*args: object, **more: object) -> object:
                    if step == "_copy_clips":  # within: all the clips are there, the events are not
                        real(*args, **more)
                    raise KilledError

                patched.setattr(copies, step, cut)
                with pytest.raises(KilledError):
                    restore(tmp_path / "copy", there, replace=True)
    assert list(other.glob(".restore-*"))

    with Journal.open(other) as again:
        verdict = verify(again)

        assert verdict.digest == (new if step == "after" else old)
        assert (verdict.faults, verdict.missing_clips) == ((), ())
        assert [path.name for path in (other / "clips").iterdir()] == [
            exam if step == "after" else store.exam
        ]
    kept = [name for name in left_in(other) if name.startswith("replaced-")]
    assert left_in(other) == ["clips", *kept, "voicelog.db"]
    assert all(check_backup(other / name).digest == old for name in kept)


@pytest.mark.parametrize("step", ["_copy_file", "_copy_clips", "verify", "_to_one_file", "_hashes"])
def test_a_backup_cut_short_is_taken_away_by_the_next_start(
    journal: Journal, folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    filled(journal)
    place = tmp_path / "copy"
    with monkeypatch.context() as patched:

        def cut(*_: object, **__: object) -> None:
            raise KilledError

        patched.setattr(copies, step, cut)
        with pytest.raises(KilledError):
            backup(journal, place)
    assert any(place.iterdir())
    (place / "mine.txt").write_text("put there since")

    Journal.open(folder).close()

    assert [path.name for path in place.iterdir()] == ["mine.txt"]
    assert not list(folder.glob(".*"))


def test_a_backup_that_is_under_way_or_whole_is_left_alone(
    journal: Journal, folder: Path, tmp_path: Path
) -> None:
    filled(journal)
    place = tmp_path / "copy"
    with leftovers.backing_up(journal, place):
        copies.write_backup(journal, place)
        (place / "backup.json").rename(tmp_path / "list")
        before = sorted(place.rglob("*"))
        Journal.open(folder).close()
        assert sorted(place.rglob("*")) == before
        (tmp_path / "list").rename(place / "backup.json")
        (mark,) = folder.glob(".backing-up-*")
        kept = mark.read_bytes()
    mark.write_bytes(kept)  # of a program that was killed behind its last step

    Journal.open(folder).close()

    assert not mark.exists()
    assert check_backup(place).exams == 2


def test_parts_of_files_go_unless_their_program_runs(journal: Journal, folder: Path) -> None:
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    (folder / "clips").mkdir(exist_ok=True)
    parts = [folder / f".voicelog.clock.{pid}.part" for pid in (ended.pid, os.getpid())]
    parts += [folder / "clips" / f".a.flac.{pid}.part" for pid in (ended.pid, os.getppid())]
    for part in parts:
        part.write_bytes(b"x")

    Journal.open(folder).close()

    assert [part.exists() for part in parts] == [False, True, False, True]


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (
            errno.ENOSPC,
            "the disk is full: make room and try again; nothing was restored: the record is as it was",
        ),
        (errno.EACCES, "(this user may not); nothing was restored: the record is as it was"),
        (errno.EIO, "(the disk fails to read or write it); nothing was restored: the record is as it was"),
        (errno.ELOOP, "the links there lead in a circle"),
    ],
)
def test_what_keeps_a_restore_from_being_done_is_said_in_plain_words(
    journal: Journal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, code: int, words: str
) -> None:
    """None of the system's own, nor of an entry, which nobody made."""
    filled(journal)
    backup(journal, tmp_path / "copy")
    before = verify(journal).digest

    def refused(*_: object) -> None:
        raise OSError(code, os.strerror(code), "backup")

    monkeypatch.setattr(copies, "copyfile", refused)
    with pytest.raises(RecordError) as raised:
        restore(tmp_path / "copy", journal, replace=True)

    assert str(raised.value).endswith(words)
    assert "\n" not in str(raised.value)
    assert os.strerror(code) not in str(raised.value)
    assert verify(journal).digest == before


def test_one_restore_at_a_time(journal: Journal, tmp_path: Path) -> None:
    filled(journal)
    backup(journal, tmp_path / "copy")
    with Journal.open(tmp_path / "new") as new, leftovers.restoring(new) as work:
        with pytest.raises(RecordError, match="another restore is under way"):
            restore(tmp_path / "copy", new)
        with Journal.open(tmp_path / "new"):  # a program that starts meanwhile leaves it alone
            assert work.is_dir()


def test_clips_that_a_backup_does_not_list_are_not_taken(journal: Journal, tmp_path: Path) -> None:
    exam = filled(journal)
    backup(journal, tmp_path / "copy")
    (tmp_path / "copy" / "clips" / exam / ("0" * 64 + ".flac")).write_bytes(b"x")

    with Journal.open(tmp_path / "new") as new:
        restore(tmp_path / "copy", new)
        assert len(new.clips.files(exam)) == 1
