"""Scenarios that need a process of their own: a limit of file size, and the rights of an ordinary user."""

import json
import os
import resource
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from voicelog.record.errors import RecordError
from voicelog.record.journal import Journal
from voicelog.record.storing import NotKeptError
from voicelog.record.verifying import verify

from .cases import dictated

NOBODY = 65534
SOUND = (np.random.default_rng(1).random(16000) - 0.5).astype(np.float32)


def refused(work: Callable[[], object]) -> RecordError:
    """The error of work that must fail."""
    try:
        work()
    except RecordError as error:
        return error
    except NotKeptError as error:
        if isinstance(error.__cause__, RecordError):
            return error.__cause__
        raise
    raise RuntimeError("the work was done")


def file_size(folder: Path) -> dict[str, Any]:
    """The write-ahead file may not grow any more; later it may."""
    with Journal.open(folder) as journal:
        store, session = dictated(journal)
        before = [session.state]

        def type_on() -> None:
            for line in ["right eye", "left eye"] * 200:
                before[0] = session.state
                session.type_line(line)

        _, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
        size = (folder / "voicelog.db-wal").stat().st_size
        resource.setrlimit(resource.RLIMIT_FSIZE, (size + 20_000, hard))
        errors = [refused(type_on)]
        kept = journal.exam(store.exam).state == before[0] == session.state
        resource.setrlimit(resource.RLIMIT_FSIZE, (8_000, hard))
        errors.append(refused(lambda: store.keep_clip(SOUND)))
        resource.setrlimit(resource.RLIMIT_FSIZE, (hard, hard))
        return _result(journal, errors, kept, store, session)


def read_only(folder: Path) -> dict[str, Any]:
    """A folder that may not be written to: before the start, and in the middle of an exam."""
    closed = folder.parent / "closed"
    closed.mkdir(mode=0o500)
    errors = [refused(lambda: Journal.open(closed))]
    with Journal.open(folder) as journal:
        store, session = dictated(journal)
        store.keep_clip(SOUND)
        before = session.state
        _allow(folder, 0o500, 0o400)
        errors.append(refused(lambda: store.keep_clip((SOUND / 2).astype(np.float32))))
        journal.close()  # files that are open stay writable: new connections must be made
        errors.append(refused(lambda: session.type_line("right eye")))
        kept = session.state == before == journal.exam(store.exam).state
        _allow(folder, 0o700, 0o600)
        return _result(journal, errors, kept, store, session)


def _allow(folder: Path, folders: int, files: int) -> None:
    for path in [*folder.rglob("*")]:
        path.chmod(folders if path.is_dir() else files)
    folder.chmod(folders)


def _result(
    journal: Journal, errors: list[RecordError], kept: bool, store: Any, session: Any
) -> dict[str, Any]:
    kept = kept and journal.exam(store.exam).state == session.state
    session.type_line("other eye")
    store.keep_clip(SOUND)
    return {
        "refused": [type(error).__name__ for error in errors],
        "one_line": all("\n" not in str(error) and str(error) for error in errors),
        "acknowledged_are_kept": kept,
        "goes_on": journal.exam(store.exam).state == session.state,
        "faults": [str(fault) for fault in verify(journal).faults],
    }


def as_ordinary_user(place: Path, work: Callable[[Path], dict[str, Any]]) -> dict[str, Any]:
    """Root is bound by no rights, so become somebody else, for good; what is imported must be loaded before."""
    own = place / "own"
    own.mkdir()
    if os.getuid() == 0:
        place.chmod(0o711)
        os.chown(own, NOBODY, NOBODY)
        os.setgid(NOBODY)
        os.setuid(NOBODY)
    return work(own / "data")


if __name__ == "__main__":
    here = Path(sys.argv[1])
    of_size = file_size(here / "data")
    print(json.dumps({"file-size": of_size, "read-only": as_ordinary_user(here, read_only)}))
