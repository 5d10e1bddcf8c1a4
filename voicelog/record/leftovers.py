"""What a restore or an erasing that was killed left behind is found at the next start, and cleared away."""

import json
import shutil
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Final

from voicelog.record.errors import RecordBusyError
from voicelog.record.places import CAN_HOLD, held_alone, write_private

if TYPE_CHECKING:
    from voicelog.record.journal import Journal

_PREFIX: Final = ".restore-"
_LOCK_NAME: Final = ".restoring"
ERASING_NAME: Final = ".erasing"
"""The mark of an erasing that is under way, or was killed."""
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
    """Remove what killed restores and erasings left, unless one is under way. Raises OSError, RecordError."""
    data = journal.clips.folder.parent
    if (data / ERASING_NAME).exists():
        from voicelog.record.erasing_copies import finish  # it opens journals itself

        finish(journal)
    if not CAN_HOLD or not any(data.glob(f"{_PREFIX}*")):
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
    path = data / _LOCK_NAME
    with held_alone(path) as ours:
        try:
            yield ours
        finally:
            if ours:
                path.unlink(missing_ok=True)
