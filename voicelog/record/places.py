"""Where the record lies on this machine, and that only its user can read it."""

import hashlib
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Final

import platformdirs

try:
    import fcntl
except ImportError:  # pragma: no cover  (Windows)
    fcntl = None  # type: ignore[assignment]

CAN_HOLD: Final = fcntl is not None
"""Whether files can be held against other programs here."""
DATABASE_NAME: Final = "voicelog.db"
MANIFEST_NAME: Final = "backup.json"
CLIPS_NAME: Final = "clips"


def data_folder() -> Path:
    """`VOICELOG_DATA`, or the platform's place for a user's data."""
    named = os.environ.get("VOICELOG_DATA")
    return Path(named) if named else Path(platformdirs.user_data_dir("voicelog"))


def named_after(server: str) -> str:
    """A name for what is kept here about the record on a server: two servers' are kept apart."""
    return f"voicelog-{hashlib.sha256(server.encode()).hexdigest()[:8]}"


def private_folder(path: Path) -> Path:
    """Make a folder that only its user can enter; one that exists is left as it is. Raises OSError."""
    path.mkdir(mode=0o700, parents=True, exist_ok=True)
    return path


def private_file(path: Path) -> Path:
    """Make sure that a file exists and that only its user can read it. Raises OSError.

    SQLite gives its write-ahead files the mode of the database, so making it first covers those as well.
    """
    handle = os.open(path, os.O_CREAT | os.O_RDWR, 0o600)
    try:
        if os.fstat(handle).st_mode & 0o077:
            os.chmod(path, 0o600)
    finally:
        os.close(handle)
    return path


def write_private(path: Path, content: bytes, part_in: Path | None = None) -> None:
    """Write a new file whole or not at all: under another name, synced, then renamed, then the folder synced.

    `part_in` is where it lies until then, on the same disk; None: beside the file. Raises OSError; a file of that name
    is replaced.
    """
    part = (part_in or path.parent) / f".{path.name}.{os.getpid()}.part"
    try:
        handle = os.open(part, os.O_CREAT | os.O_WRONLY | os.O_TRUNC, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, path)
    except OSError:
        part.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def clear_parts(folder: Path) -> None:
    """Remove what `write_private` of killed programs left in a folder. Raises OSError."""
    for part in folder.glob(".*.part"):
        process = part.name.split(".")[-2]
        if process.isdecimal() and not is_running(int(process)):
            part.unlink(missing_ok=True)


def is_running(process: int) -> bool:
    """Whether a process is there. Where that cannot be known (Windows) every other one counts as running."""
    if os.name != "posix" or process == os.getpid():
        return True
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return False
    except OSError:
        return True
    return True


@contextmanager
def held_alone(path: Path) -> Iterator[bool]:
    """Whether no other program holds this file, which is made; none can while this lasts. Raises OSError."""
    if fcntl is None:
        yield True
        return
    with private_file(path).open("rb") as file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            ours = path.stat().st_ino == os.fstat(file.fileno()).st_ino
        except OSError:
            ours = False  # held by another, or removed by one that has just ended
        yield ours


def sync_folder(path: Path) -> None:
    """Make the names in a folder durable, where the platform can open folders (not on Windows)."""
    if os.name != "posix":
        return
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
