"""What was killed in the middle left things behind: they are found at the next start, and cleared away."""

import json
import os
import secrets
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Final

from voicelog.record.errors import RecordBusyError
from voicelog.record.places import (
    CAN_HOLD,
    CLIPS_NAME,
    MANIFEST_NAME,
    clear_parts,
    held_alone,
    private_folder,
    write_private,
)

if TYPE_CHECKING:
    from voicelog.record.journal import Journal

_PREFIX: Final = ".restore-"
_LOCK_NAME: Final = ".restoring"
ERASING_NAME: Final = ".erasing"
"""The mark of an erasing that is under way, or was killed."""
_NOTE_NAME: Final = "exams.json"
_BACKING_UP: Final = ".backing-up-"
_OF_A_BACKUP: Final = ("voicelog.*", ".voicelog*", "head.*", ".*.part")
"""What a backup may hold, besides its clips, before it is whole."""


@contextmanager
def restoring(journal: "Journal") -> Iterator[Path]:
    """A folder to work in, beside the clips; one restore at a time. Raises RecordBusyError, OSError."""
    data = private_folder(journal.clips.folder.parent)
    with _alone(data) as alone:
        if not alone:
            raise RecordBusyError(f"{data}: another restore is under way: wait for its end")
        _clear(data, journal)
        work = Path(mkdtemp(prefix=_PREFIX, dir=data))
        try:
            yield work
        finally:
            _clear(data, journal)


@contextmanager
def backing_up(journal: "Journal", folder: Path) -> Iterator[None]:
    """A mark that a backup is made in a folder with nothing else in it; it stays where that fails. Raises OSError."""
    mark = journal.clips.folder.parent / f"{_BACKING_UP}{os.getpid()}-{secrets.token_hex(4)}"
    with held_alone(mark):
        with mark.open("r+b") as file:
            file.write(os.fsencode(folder.absolute()))
            file.flush()
            os.fsync(file.fileno())
        yield
        mark.unlink()


def clear(journal: "Journal") -> None:
    """Remove what was left by killed programs, unless they are at it. Raises OSError, RecordError."""
    data = journal.clips.folder.parent
    clear_parts(data)
    clear_parts(journal.clips.folder)
    if CAN_HOLD:
        for mark in data.glob(f"{_BACKING_UP}*"):
            _clear_backup(mark)
    if (data / ERASING_NAME).exists():
        from voicelog.record.erasing_copies import finish  # it opens journals itself

        finish(journal)
    if not CAN_HOLD or not (any(data.glob(f"{_PREFIX}*")) or (data / _LOCK_NAME).exists()):
        return
    with _alone(data) as alone:
        if alone:
            _clear(data, journal)


def note(work: Path, exams: Iterable[str]) -> None:
    """Keep in mind whose clips the restore will add, or make superfluous, before it does."""
    write_private(work / _NOTE_NAME, json.dumps(sorted(exams)).encode())


def _clear_backup(mark: Path) -> None:
    """A backup without its list was never finished: nothing else was in its folder."""
    with held_alone(mark) as alone:
        if not alone:
            return
        named = os.fsdecode(mark.read_bytes())
        folder = Path(named)
        if named and folder.is_dir() and not (folder / MANIFEST_NAME).exists():
            shutil.rmtree(folder / CLIPS_NAME, ignore_errors=True)
            for pattern in _OF_A_BACKUP:
                for path in folder.glob(pattern):
                    path.unlink()
            with suppress(OSError):  # somebody put something else there since
                folder.rmdir()
        mark.unlink()


def _clear(data: Path, journal: "Journal") -> None:
    """Of the exams that a restore was about, those that the record does not hold have no clips here either."""
    for work in data.glob(f"{_PREFIX}*"):
        try:
            exams = json.loads((work / _NOTE_NAME).read_bytes())
        except (OSError, ValueError):
            exams = []
        for exam in exams:
            folder = journal.clips.folder / exam
            if not folder.is_dir():
                continue
            if not journal.has(exam):
                shutil.rmtree(folder)
                continue
        shutil.rmtree(work)


@contextmanager
def _alone(data: Path) -> Iterator[bool]:
    """Whether no other process restores here; none can begin to while this lasts."""
    path = data / _LOCK_NAME
    with held_alone(path) as ours:
        try:
            yield ours
        finally:
            if ours:
                path.unlink(missing_ok=True)
