"""What a restore that was killed left behind is found by its folder and cleared away at the next start."""

import json
import os
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Final

from voicelog.record.errors import RecordBusyError
from voicelog.record.places import private_file, write_private

if TYPE_CHECKING:
    from voicelog.record.journal import Journal

try:
    import fcntl
except ImportError:  # pragma: no cover  (Windows: a restore there clears what earlier ones left)
    fcntl = None  # type: ignore[assignment]

_PREFIX: Final = ".restore-"
_LOCK_NAME: Final = ".restoring"
_NOTE_NAME: Final = "exams.json"


@contextmanager
def restoring(journal: "Journal") -> Iterator[Path]:
    """A folder to work in, beside the clips; one restore at a time. Raises RecordBusyError, OSError."""
    data = journal.clips.folder.parent
    with _alone(data) as alone:
        if not alone:
            raise RecordBusyError(f"{data}: another restore is under way: wait for its end")
        _clear(data, journal)
        work = Path(mkdtemp(prefix=_PREFIX, dir=data))
        try:
            yield work
        finally:
            _clear(data, journal)


def clear(journal: "Journal") -> None:
    """Remove what killed restores left, unless one is under way. Raises OSError."""
    data = journal.clips.folder.parent
    if fcntl is None or not any(data.glob(f"{_PREFIX}*")):
        return
    with _alone(data) as alone:
        if alone:
            _clear(data, journal)


def note(work: Path, exams: Iterable[str]) -> None:
    """Keep in mind whose clips the restore will add, or make superfluous, before it does."""
    write_private(work / _NOTE_NAME, json.dumps(sorted(exams)).encode())


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
            for part in folder.glob(".*.part"):
                part.unlink()
        shutil.rmtree(work)


@contextmanager
def _alone(data: Path) -> Iterator[bool]:
    """Whether no other process restores here; none can begin to while this lasts."""
    if fcntl is None:
        yield True
        return
    path = data / _LOCK_NAME
    with private_file(path).open("rb") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            ours = path.stat().st_ino == os.fstat(file.fileno()).st_ino
        except OSError:
            ours = False  # held by another, or removed by one that has just ended
        try:
            yield ours
        finally:
            if ours:
                path.unlink(missing_ok=True)
