"""Backups: a folder with the whole journal as one file, the clips, and a list of all files with their hashes.

A backup is made while the record is in use and checked before it counts. It is always a SQLite file, so that it can be
read for as long as SQLite can, whichever database it came from; it can be restored to either.
"""

import hashlib
import json
import os
import sqlite3
import time
from collections.abc import Callable, Container
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from shutil import copyfile
from typing import Final, Literal

from pydantic import BaseModel, ConfigDict, ValidationError
from sqlalchemy import insert, select

from voicelog.record.databases import WAIT_MS, Database
from voicelog.record.erasing import erase_again, erasures, scrub
from voicelog.record.errors import (
    BACKING_UP,
    RESTORING,
    RecordBusyError,
    RecordDamagedError,
    RecordError,
    doing,
    in_plain_words,
)
from voicelog.record.heads import head_of
from voicelog.record.journal import Journal
from voicelog.record.leftovers import backing_up, note, restoring
from voicelog.record.places import DATABASE_NAME, MANIFEST_NAME, private_folder, sync_folder, write_private
from voicelog.record.plain import counted
from voicelog.record.qr import qr_svg
from voicelog.record.tables import erasure as erasure_table
from voicelog.record.tables import event as event_table
from voicelog.record.tables import exam as exam_table
from voicelog.record.tables import leaf as leaf_table
from voicelog.record.tables import salt as salt_table
from voicelog.record.verifying import Verdict, verify

HEAD_NAME: Final = "head.txt"
HEAD_PICTURE_NAME: Final = "head.svg"
_AT_ONCE: Final = 1000  # rows copied together


class Manifest(BaseModel):
    """What a backup holds. `files` are paths within the folder with their SHA-256."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    format: Literal["voicelog-backup"] = "voicelog-backup"
    version: Literal[1, 2] = 2
    made_at: datetime
    exams: int
    events: int
    digest: str
    head: str | None = None  # not in version 1
    files: dict[str, str]


@dataclass(frozen=True, slots=True)
class Copied:
    """What the check of a copy found; `kept` is where what was there before lies now, if there was anything."""

    verdict: Verdict
    kept: Path | None = None


@doing(BACKING_UP)
def backup(journal: Journal, folder: Path, now: datetime | None = None) -> Copied:
    """Copy the journal and its clips to a new folder, and check the copy.

    A record with faults is copied as it is, with the faults in the verdict. One that is cut short is taken away by the
    next start. Raises RecordError when the folder is not empty or the copy could not be made.
    """
    with in_plain_words(str(folder)):
        if folder.exists() and any(folder.iterdir()):
            raise RecordError(f"{folder} is not empty: name a new folder for the backup")
        with backing_up(journal, folder):
            return write_backup(journal, folder, now)


def write_backup(journal: Journal, folder: Path, now: datetime | None = None) -> Copied:
    """Write a backup into a folder that is new or empty. Raises RecordError."""
    with in_plain_words(str(folder)):
        private_folder(folder)
    with closing(Journal.open(folder)) as copy:
        if journal.database.path is not None:
            _copy_file(journal.database.path, folder / DATABASE_NAME)
        else:
            _copy_rows(journal.database, copy.database)
        _copy_clips(journal, copy)
        verdict = verify(copy)
        head = journal.head_of(copy)
    with in_plain_words(str(folder)):
        if head is not None:
            write_private(folder / HEAD_NAME, f"{head}\n".encode())
            write_private(folder / HEAD_PICTURE_NAME, qr_svg(str(head)))
        _to_one_file(folder / DATABASE_NAME)
        manifest = Manifest(
            made_at=now or datetime.now(UTC),
            exams=verdict.exams,
            events=verdict.events,
            digest=verdict.digest,
            head=None if head is None else str(head),
            files=_hashes(folder),
        )
        write_private(folder / MANIFEST_NAME, manifest.model_dump_json(indent=2).encode())
    return Copied(verdict)


def check_backup(folder: Path) -> Manifest:
    """The list of a backup, when all its files are there as they were written. Raises RecordError."""
    with in_plain_words(str(folder)):
        if not (folder / MANIFEST_NAME).is_file():
            raise RecordError(f"{folder} is no whole backup: {MANIFEST_NAME} is missing")
        try:
            manifest = Manifest.model_validate(json.loads((folder / MANIFEST_NAME).read_bytes()))
        except ValueError as error:
            what = "other fields" if isinstance(error, ValidationError) else "no JSON"
            raise RecordError(f"{folder / MANIFEST_NAME} is not of this format: {what}") from None
        found = _hashes(folder)
    if DATABASE_NAME not in manifest.files:
        raise RecordError(
            f"{folder / MANIFEST_NAME} does not list {DATABASE_NAME}: this backup is not restored"
        )
    for name, wanted in manifest.files.items():
        if found.get(name) != wanted:
            state = "was changed" if name in found else "is missing"
            raise RecordError(f"{folder / name} {state}: this backup is not restored")
    return manifest


def restore(folder: Path, journal: Journal, *, replace: bool = False) -> Copied:
    """Put a backup in the place of a journal, and check the result.

    The clips come first, then the events in one go: whenever this is cut short, the record is wholly the old one or
    wholly the new one with its clips. A journal that holds exams is replaced only with `replace`, only when it is a
    file, and after a backup of it was made beside it. Raises RecordError; the journal is then as it was.
    """
    return Copied(kept=_put_back(folder, journal, replace=replace), verdict=verify(journal))


@doing(RESTORING)
def _put_back(folder: Path, journal: Journal, *, replace: bool) -> Path | None:
    """Where what was there before is kept now; None where nothing was there."""
    manifest = check_backup(folder)
    data = journal.clips.folder.parent
    kept = None
    with in_plain_words(str(data)), restoring(journal) as work:
        # The backup itself is never opened: that alone would change its file.
        copyfile(folder / DATABASE_NAME, work / DATABASE_NAME)
        with closing(Journal.open(work)) as copy:
            copy.clips.folder = folder / copy.clips.folder.name
            _check_stated(folder, manifest, verify(copy, clips=False))
            _keep_erased(journal, copy)
            if journal.count():
                kept = _kept_before(journal, work, replace=replace)
            # Clips that lie here already may be another record's (of a server, or of this folder's own file).
            note(work, {*journal.names(), *(each for each in copy.names() if not journal.clips.has(each))})
            _copy_clips(copy, journal, manifest.files)
            journal.heads.restored()
            try:
                if journal.database.path is not None:
                    _copy_file(work / DATABASE_NAME, journal.database.path)
                else:
                    _copy_rows(copy.database, journal.database)
            finally:
                journal.note_again()
    return kept


def _keep_erased(journal: Journal, copy: Journal) -> None:
    """What was erased here since the backup was made does not come back with it."""
    with journal.database.reading() as connection:
        known = erasures(connection)
    with copy.database.writing() as connection:
        found = erase_again(connection, known)
    if found:
        scrub(copy.database)


def _check_stated(folder: Path, manifest: Manifest, found: Verdict) -> None:
    """Whether the copy is what the backup says it is. Raises RecordError."""
    if found.faults:
        raise RecordError(f"the backup has faults and is not restored: {found.faults[0]}")
    stated_head = None if manifest.head is None else head_of(manifest.head)
    if stated_head is not None and (stated_head.size, stated_head.root) != (found.size, found.root):
        raise RecordError(
            f"{folder / MANIFEST_NAME} states another head than its journal has: this backup is not restored"
        )
    for name in ("exams", "events", "digest"):
        stated, there = getattr(manifest, name), getattr(found, name)
        if stated != there:
            raise RecordError(
                f"{folder / MANIFEST_NAME} states {name} {stated}, its journal has {there}: "
                "this backup is not restored"
            )


@doing(RESTORING)
def open_to_restore(folder: Path, server: str | None, *, replace: bool) -> Journal:
    """The journal to restore to; a damaged file is moved aside when it is to be replaced. Raises RecordError."""
    try:
        return Journal.open(folder, server)
    except RecordDamagedError:
        if server is not None or not replace:
            raise
    with in_plain_words(str(folder)):
        aside = private_folder(folder / f"damaged-{_stamp()}")
        for path in folder.glob(f"{DATABASE_NAME}*"):
            path.rename(aside / path.name)
    return Journal.open(folder)


def _kept_before(journal: Journal, work: Path, *, replace: bool) -> Path:
    path = journal.database.path
    if path is None:
        raise RecordError(
            f"{journal.database.where} holds {counted(journal.count(), 'exam')}: restore to an empty database"
        )
    if not replace:
        raise RecordError(
            f"{path} holds {counted(journal.count(), 'exam')}: say --replace to put the backup in their place"
        )
    folder = path.parent / f"replaced-{_stamp()}"
    write_backup(journal, work / folder.name)  # it gets its place when it is whole
    (work / folder.name).rename(folder)
    sync_folder(folder.parent)
    return folder


def _stamp() -> str:
    return f"{datetime.now(UTC):%Y%m%dT%H%M%S.%fZ}"


def _copy_file(source: Path, target: Path) -> None:
    """SQLite's online backup: one steady view of the source, all or nothing in the target."""
    with closing(sqlite3.connect(source)) as old, closing(sqlite3.connect(target)) as new:
        old.backup(new, progress=_patience(str(target)))


def _patience(where: str) -> Callable[[int, int, int], object]:
    give_up = time.monotonic() + WAIT_MS / 1000

    def check(status: int, _remaining: int, _total: int) -> None:
        if status in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED) and time.monotonic() > give_up:
            raise RecordBusyError(f"{where}: another process holds the record: close it and try again")

    return check


def _copy_rows(source: Database, target: Database) -> None:
    with source.reading() as old, target.writing() as new:
        for table in (exam_table, event_table, salt_table, leaf_table, erasure_table):
            query = select(table).order_by(*table.primary_key)
            found = old.execution_options(yield_per=_AT_ONCE).execute(query).mappings()
            for rows in found.partitions():
                new.execute(insert(table), [dict(row) for row in rows])


def _copy_clips(source: Journal, target: Journal, listed: Container[str] | None = None) -> None:
    """All clips, or those that a backup lists, by their paths in it; none of exams that were erased."""
    with source.database.reading() as connection:
        erased = set(connection.scalars(select(erasure_table.c.exam)))
    for exam in source.clips.exams():
        if exam in erased:
            continue
        for path in sorted((source.clips.folder / exam).glob("*.flac")):
            if listed is not None and path.relative_to(source.clips.folder.parent).as_posix() not in listed:
                continue
            place = private_folder(private_folder(target.clips.folder) / exam) / path.name
            write_private(place, path.read_bytes(), part_in=target.clips.folder)
            os.utime(place, (path.stat().st_atime, path.stat().st_mtime))


def _to_one_file(path: Path) -> None:
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")


def _hashes(folder: Path) -> dict[str, str]:
    """SHA-256 of every file in a folder, by its path there, the list itself left out."""
    paths = sorted(path for path in folder.rglob("*") if path.is_file() and path.name != MANIFEST_NAME)
    return {path.relative_to(folder).as_posix(): _sha256(path) for path in paths}


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
