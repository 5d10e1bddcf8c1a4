"""An exam erased everywhere: in the record, in what lies beside it, and in backups, which are made anew without it.

A mark in the data folder says that this is under way; the next start of a program that was killed goes on with it.
"""

import json
import os
import shutil
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from shutil import copyfile
from typing import Final

from voicelog.record.copies import check_backup, write_backup
from voicelog.record.erasing import Erasure, clear, erase, erase_again, erasures, scrub
from voicelog.record.errors import RecordBusyError, RecordError, in_plain_words
from voicelog.record.journal import Journal
from voicelog.record.leftovers import ERASING_NAME
from voicelog.record.places import DATABASE_NAME, held_alone, private_folder, sync_folder

_NEW, _OLD, _WORK = ".erasing-new", ".erasing-old", ".erasing-work"
_REPLACED: Final = "replaced-*"
_DAMAGED: Final = "damaged-*"


@dataclass(frozen=True, slots=True)
class Reached:
    """Backups that were made anew, those that did not hold the exam, and folders that may and cannot be read."""

    anew: tuple[Path, ...]
    without: tuple[Path, ...]
    unreadable: tuple[Path, ...]


def erase_everywhere(
    journal: Journal, exam: str, *, by: str, reason: str, backups: Sequence[Path] = ()
) -> Reached:
    """Erase an exam in the record, in records that it replaced, and in the backups named. Raises RecordError.

    Done again it goes on with what could not be reached the first time.
    """
    data = journal.clips.folder.parent
    with _marked(data) as alone:
        if not alone:
            raise RecordBusyError(f"{data}: another program erases an exam: wait for its end")
        _note(data, backups)
        erase(journal, exam, by=by, reason=reason)
        known = [each for each in _known(journal) if each.exam == exam]
        folders = (*_replaced(data), *backups)
        held = {folder: erase_in_backup(journal, folder, known) for folder in folders}
    return Reached(
        tuple(folder for folder, did in held.items() if did),
        tuple(folder for folder, did in held.items() if not did),
        tuple(sorted(data.glob(_DAMAGED))),
    )


def finish(journal: Journal) -> None:
    """Go on with an erasing that was killed, unless it is under way. Raises RecordError."""
    data = journal.clips.folder.parent
    with _marked(data) as alone:
        if not alone:
            return
        known = _known(journal)
        clear(journal, [each.exam for each in known])
        for folder in _replaced(data):
            erase_in_backup(journal, folder, known)
        for folder in _noted(data):
            with suppress(RecordError):  # it may lie on a disk that is not there now, and stops no start
                erase_in_backup(journal, folder, known)


def erase_in_backup(journal: Journal, folder: Path, known: Sequence[Erasure]) -> bool:
    """Take exams that were erased out of a backup; whether it held any. Raises RecordError, and it is as it was."""
    with in_plain_words(str(folder)):
        _settle(folder)
        made_at = check_backup(folder).made_at
        work = private_folder(_beside(folder, _WORK))
        try:
            copyfile(folder / DATABASE_NAME, work / DATABASE_NAME)
            with closing(Journal.open(work)) as copy:
                with copy.database.writing() as connection:
                    found = erase_again(connection, known)
                copy.clips.folder = folder / copy.clips.folder.name
                if not found and not {each.exam for each in known}.intersection(copy.clips.exams()):
                    return False
                scrub(copy.database)
                copy.key = journal.key
                write_backup(copy, _beside(folder, _NEW), made_at)
        finally:
            shutil.rmtree(work)
        folder.rename(_beside(folder, _OLD))
        sync_folder(folder.parent)
        _settle(folder)
    return True


def _settle(folder: Path) -> None:
    """Before the old backup is moved aside nothing has happened; after that only the new one counts."""
    new, old = _beside(folder, _NEW), _beside(folder, _OLD)
    shutil.rmtree(_beside(folder, _WORK), ignore_errors=True)
    if folder.exists():
        shutil.rmtree(new, ignore_errors=True)
    elif new.exists():
        new.rename(folder)
    else:
        raise RecordError(f"{folder}: there is no such backup")
    shutil.rmtree(old, ignore_errors=True)
    sync_folder(folder.parent)


def _beside(folder: Path, ending: str) -> Path:
    return folder.with_name(folder.name + ending)


def _replaced(data: Path) -> list[Path]:
    """Backups beside the record, and those of which only a part of the way to a new one is left."""
    names = set()
    for path in data.glob(_REPLACED):
        name = path.name
        for ending in (_NEW, _OLD, _WORK):
            name = name.removesuffix(ending)
        names.add(name)
    return [data / name for name in sorted(names)]


def _known(journal: Journal) -> list[Erasure]:
    with journal.database.reading() as connection:
        return erasures(connection)


def _note(data: Path, backups: Sequence[Path]) -> None:
    """Which backups elsewhere an erasing is to reach; in the mark itself, which is held and must stay the same file."""
    with (data / ERASING_NAME).open("r+b") as file:
        file.write(json.dumps([str(folder.absolute()) for folder in backups]).encode())
        file.truncate()
        file.flush()
        os.fsync(file.fileno())


def _noted(data: Path) -> list[Path]:
    try:
        return [Path(folder) for folder in json.loads((data / ERASING_NAME).read_bytes())]
    except (OSError, ValueError):  # killed before anything was erased
        return []


@contextmanager
def _marked(data: Path) -> Iterator[bool]:
    """Whether nobody else erases here; the mark goes when all is done, and stays when it is not."""
    with held_alone(data / ERASING_NAME) as alone:
        yield alone
        if alone:
            (data / ERASING_NAME).unlink(missing_ok=True)
