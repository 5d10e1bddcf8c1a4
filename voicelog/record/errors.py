"""Errors of the record, and the one-line wording of what databases and disks refuse."""

import errno
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Final

from voicelog.errors import VoicelogError, reason_of


class RecordError(VoicelogError):
    """The record cannot do what was asked; nothing that was acknowledged is lost."""


class RecordFullError(RecordError):
    """No room is left on the disk; the event was not kept."""


class RecordReadOnlyError(RecordError):
    """The place of the record cannot be written to; the event was not kept."""


class RecordBusyError(RecordError):
    """Another process held the record for longer than is waited; the event was not kept."""


class RecordDamagedError(RecordError):
    """The file is no record, or its pages are broken."""


class RecordUnreachableError(RecordError):
    """The database server does not answer; the event was not kept."""


class ExamMovedOnError(RecordError):
    """The exam was added to from elsewhere since it was opened here; it must be opened again."""


class NoSuchExamError(RecordError):
    """A name fits no exam, or more than one."""


class AlreadyThereError(RecordError):
    """The record holds an exam of that name already."""


class CannotFollowError(RecordError):
    """An event cannot come next in its exam."""


class AttestedError(CannotFollowError):
    """The exam was attested: only addenda can be added."""


@dataclass(frozen=True, slots=True)
class Doing:
    """What is under way when a disk or a database refuses: how it is done again, and what is so until then."""

    again: str
    so_far: str


ENTERING: Final = Doing("say it again", "; nothing was kept of this entry; everything before it is safe")
A_COMMAND: Final = Doing("try again", "; what was kept before is safe")
BACKING_UP: Final = Doing("try again", "; no backup was made")
RESTORING: Final = Doing("try again", "; nothing was restored: the record is as it was")
_doing: Final = ContextVar("doing", default=ENTERING)

_FULL: Final = "{where}: the disk is full: make room and {doing.again}{doing.so_far}"
_READ_ONLY: Final = (
    "{where}: cannot be written to: allow writing there, or name another place with VOICELOG_DATA"
)
_BUSY: Final = "{where}: another process holds the record: try again{doing.so_far}"
_DAMAGED: Final = (
    "{where}: is damaged or no record: keep the file, and restore a backup with: voicelog record restore"
)
_UNREACHABLE: Final = "{where}: does not answer ({reason}): check the server and the network{doing.so_far}"
_NOT_TRUSTED: Final = (
    "{where}: no connection as its sslmode asks ({reason}): check the server's TLS and certificate"
    "{doing.so_far}"
)
_REFUSED: Final = "{where}: cannot be read or written ({reason}){doing.so_far}"

_FULL_CODES: Final = (errno.ENOSPC, errno.EDQUOT, errno.EFBIG)
_READ_ONLY_CODES: Final = (errno.EACCES, errno.EPERM, errno.EROFS)
_NOT_THERE_CODES: Final = frozenset(
    (errno.ENOENT, errno.EISDIR, errno.ENOTDIR, errno.EEXIST, errno.ELOOP, errno.ENAMETOOLONG)
)
"""Of a path that was named wrongly: no entry was at stake."""


@contextmanager
def doing(what: Doing) -> Iterator[None]:
    """What is said of refusals is about this, and not about an entry."""
    before = _doing.set(what)
    try:
        yield
    finally:
        _doing.reset(before)


@contextmanager
def in_plain_words(where: str) -> Iterator[None]:
    """Turn what the database or the disk raises into a RecordError about `where`."""
    # Imported here: an exam that is not kept starts without the database, which takes 16 MB and 0.14 s.
    from sqlalchemy.exc import SQLAlchemyError

    try:
        yield
    except (SQLAlchemyError, sqlite3.Error, OSError) as error:
        raise record_error(error, where) from error
    except UnicodeDecodeError as error:
        # SQLite quotes a damaged file in its message, which the driver then cannot read.
        raise _said(RecordDamagedError, _DAMAGED, where) from error


def record_error(error: Exception, where: str) -> RecordError:
    """The RecordError that says what `error` means for the user."""
    from sqlalchemy.exc import DBAPIError

    if isinstance(error, OSError):
        return _of_disk(error, where)
    cause = error.orig if isinstance(error, DBAPIError) and error.orig is not None else error
    if isinstance(cause, sqlite3.Error):
        return _of_sqlite(cause, where)
    return _of_server(cause, where)


def _of_disk(error: OSError, where: str) -> RecordError:
    if error.errno in _FULL_CODES:
        return _said(RecordFullError, _FULL, where)
    if error.errno in _READ_ONLY_CODES:
        words = _READ_ONLY if _doing.get() is ENTERING else _REFUSED
        return _said(RecordReadOnlyError, words, where, reason_of(error))
    if error.errno in _NOT_THERE_CODES:
        return RecordError(f"{os.fsdecode(error.filename or where)}: {reason_of(error)}")
    return _said(RecordError, _REFUSED, where, reason_of(error))


def _of_sqlite(error: sqlite3.Error, where: str) -> RecordError:
    match getattr(error, "sqlite_errorcode", 0) & 0xFF:
        case sqlite3.SQLITE_FULL:
            return _said(RecordFullError, _FULL, where)
        case sqlite3.SQLITE_READONLY | sqlite3.SQLITE_CANTOPEN | sqlite3.SQLITE_PERM | sqlite3.SQLITE_AUTH:
            return _said(RecordReadOnlyError, _READ_ONLY, where)
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return _said(RecordBusyError, _BUSY, where)
        case sqlite3.SQLITE_CORRUPT | sqlite3.SQLITE_NOTADB:
            return _said(RecordDamagedError, _DAMAGED, where)
        case sqlite3.SQLITE_IOERR:
            return _said(RecordError, _REFUSED, where, "the disk fails, or is full")
    return RecordError(f"{where}: {_first_line(error)}")


def _of_server(error: BaseException, where: str) -> RecordError:
    """By SQLSTATE (PostgreSQL documentation, appendix A)."""
    match getattr(error, "sqlstate", None):
        case "53100":
            return _said(RecordFullError, _FULL, where)
        case "25006" | "42501":
            return _said(RecordReadOnlyError, _READ_ONLY, where)
        case "55P03" | "57014" | "40001" | "40P01":
            return _said(RecordBusyError, _BUSY, where)
        case str(state) if not state.startswith(("08", "57")):
            return RecordError(f"{where}: {_first_line(error)}")
    # By name: the driver is an extra, and need not be installed.
    kinds = {kind.__name__ for kind in type(error).__mro__}
    if kinds & {"OperationalError", "InterfaceError", "AdminShutdown"}:
        reason = _first_line(error).rpartition("failed: ")[2]
        of_tls = "SSL" in reason or "certificate" in reason
        words = _NOT_TRUSTED if of_tls else _UNREACHABLE
        return _said(RecordUnreachableError, words, where, reason)
    return RecordError(f"{where}: {_first_line(error)}")


def _said(kind: type[RecordError], words: str, where: str, reason: str = "") -> RecordError:
    return kind(words.format(where=where, reason=reason, doing=_doing.get()))


def _first_line(error: BaseException) -> str:
    return (str(error).splitlines() or [type(error).__name__])[0]
