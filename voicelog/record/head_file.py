"""The heads of the record outside its database: files beside it, and a copy where the user points.

`NAME.tail` gets a line an event, on the disk before the event is acknowledged: it says what a damaged database no
longer says, and names it. `NAME.heads` gets the last line of every exam, and is only ever added to; the second folder
has a copy of that one. Every line is a signed head and stands for itself.
"""

import os
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Final

from voicelog.errors import reason_of
from voicelog.record.errors import RecordError
from voicelog.record.heads import FORM, Head, head_of
from voicelog.record.places import private_folder, write_private

try:
    import fcntl
except (
    ImportError
):  # pragma: no cover  (Windows: two programs at once may lose a line, which a later one makes up for)
    fcntl = None  # type: ignore[assignment]

RESTORED: Final = "restored-1"
"""Begins the line behind which heads hold again: what was there before was replaced by a backup."""
_TAIL_LINES: Final = 500  # newest lines that a tail keeps when it has become long
_LONG_BYTES: Final = 500_000
_COPY_WAIT_S: Final = 3.0
_COMPARED_BYTES: Final = 4096
_SHORTEST_LINE: Final = 200  # of a whole head


@dataclass(frozen=True, slots=True)
class Kept:
    """The heads that count today, in order of their size, and how many lines are neither heads nor torn."""

    heads: tuple[Head, ...] = ()
    damaged: int = 0


class HeadFile:
    """The heads of one record: `name` in `folder`; `second` is another folder that gets a copy, or None."""

    def __init__(self, folder: Path, name: str, second: Path | None = None) -> None:
        self.path = folder / f"{name}.heads"
        self.tail = folder / f"{name}.tail"
        self.second = second
        self.trouble: str | None = None
        """Why the last line could not be written, here or there; None when it was."""
        self._last: Head | None = None

    def add(self, head: Head) -> None:
        """Keep a head. What the disk refuses is said by `trouble` alone, for the event itself is kept already."""
        try:
            if self._last is not None and self._last.exam != head.exam:
                self._for_good(self._last)
            _append(self.tail, str(head))
            if self.tail.stat().st_size > _LONG_BYTES:
                self._shorten()
            self._last = head
            self.trouble = None
        except OSError as error:
            self.trouble = f"{self.path}: {reason_of(error)}"

    def restored(self) -> None:
        """From here on heads hold anew: what was here is about to be replaced by a backup. Raises OSError."""
        before = _last(self.tail) or _last(self.path)
        _append(self.path, f"{RESTORED} {before or '-'}")
        self.tail.unlink(missing_ok=True)
        self._last = None

    def replaced(self) -> tuple[Head, ...]:
        """The heads of what was replaced by backups, in order. Raises OSError."""
        lines = [line.removeprefix(f"{RESTORED} ") for line in _lines(self.path) if line.startswith(RESTORED)]
        return _kept(lines).heads

    def kept(self) -> Kept:
        """All heads that are kept here. Raises OSError."""
        return _kept([*_lines(self.path), *_lines(self.tail)])

    def kept_elsewhere(self) -> Kept:
        """The heads in the copy; none where there is no second folder, or no copy. Raises OSError."""
        return Kept() if self.second is None else _kept(_lines(self.second / self.path.name))

    def carry(self, wait_s: float = _COPY_WAIT_S) -> None:
        """Keep the last head for good, and bring the copy up to date; waits so many seconds at most for the copy.

        The second folder may be on a disk that is not there, or far away: `trouble` then says so.
        """
        try:
            newest = _last(self.tail)
            if newest is not None:
                self._for_good(newest)
        except OSError as error:
            self.trouble = f"{self.path}: {reason_of(error)}"
        if self.second is not None and self.path.is_file():
            self._copied(wait_s)

    def _shorten(self) -> None:
        with _locked(self.tail) as file:
            lines = file.read().splitlines(keepends=True)
            write_private(self.tail, b"".join(lines[-_TAIL_LINES:]))

    def _for_good(self, head: Head) -> None:
        kept = _last(self.path)
        if kept is None or kept.size < head.size:
            _append(self.path, str(head))

    def _copied(self, wait_s: float) -> None:
        done: list[bool] = []
        copying = threading.Thread(target=self._copy, args=(self.second, done), daemon=True)
        copying.start()
        copying.join(wait_s)
        if not done and wait_s:
            self.trouble = f"{self.second}: cannot be reached; the newest heads of the record are not there"

    def _copy(self, folder: Path, done: list[bool]) -> None:
        """What is there and no longer here shows that something was rolled back, and stays."""
        try:
            here, copy = self.path.read_bytes(), folder / self.path.name
            size = copy.stat().st_size if copy.exists() else 0
            start = max(0, size - _COMPARED_BYTES)
            if size <= len(here) and _part(copy, start, size) == here[start:size]:
                _append_raw(copy, here[size:])
            else:
                there = copy.read_bytes()
                known = set(there.splitlines())
                new = [line for line in here.splitlines() if line not in known]
                _append(copy, *(line.decode("ascii", "replace") for line in new))
            done.append(True)
        except OSError:
            return


def _append(path: Path, *lines: str) -> None:
    """Add lines and sync them. Raises OSError."""
    if not lines:
        return
    private_folder(path.parent)
    with _locked(path) as file:
        # What a killed program left unfinished becomes a line of its own.
        torn = file.seek(0, os.SEEK_END) > 0 and file.seek(-1, os.SEEK_END) >= 0 and file.read(1) != b"\n"
        _write(file, b"\n" * torn + "".join(f"{line}\n" for line in lines).encode())


def _append_raw(path: Path, content: bytes) -> None:
    if content:
        with _locked(path) as file:
            _write(file, content)


def _write(file: IO[bytes], content: bytes) -> None:
    file.write(content)
    file.flush()
    os.fsync(file.fileno())


def _part(path: Path, start: int, end: int) -> bytes:
    if end == 0:
        return b""
    with path.open("rb") as file:
        file.seek(start)
        return file.read(end - start)


@contextmanager
def _locked(path: Path) -> Iterator[IO[bytes]]:
    """The file, held alone. One that was renamed over while it was waited for is opened anew. Raises OSError."""
    while True:
        handle = os.open(path, os.O_CREAT | os.O_RDWR | os.O_APPEND, 0o600)
        with os.fdopen(handle, "r+b") as file:
            if fcntl is not None:
                fcntl.flock(file, fcntl.LOCK_EX)
            if path.exists() and os.path.samestat(path.stat(), os.fstat(file.fileno())):
                yield file
                return


def _last(path: Path) -> Head | None:
    """The last head in a file, without reading all of it; None where it ends otherwise."""
    size = path.stat().st_size if path.exists() else 0
    lines = _part(path, max(0, size - _COMPARED_BYTES), size).decode("ascii", "replace").split("\n")[:-1]
    kept = _kept(lines[-2:]).heads
    return kept[-1] if kept else None


def _lines(path: Path) -> list[str]:
    """Whole lines; what stands behind the last line end was never finished."""
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        return []
    return content.decode("ascii", "replace").split("\n")[:-1]


def _kept(lines: Sequence[str]) -> Kept:
    heads: dict[str, Head] = {}
    damaged = 0
    for line in lines:
        if line.startswith(f"{RESTORED} "):
            heads.clear()
            continue
        try:
            heads[line] = head_of(line)
        except RecordError:
            damaged += line not in ("", "-") and not _is_torn(line)
    return Kept(tuple(sorted(heads.values(), key=lambda head: head.size)), damaged)


def _is_torn(line: str) -> bool:
    """The beginning of a head that a killed program left: its event was never acknowledged."""
    return len(line) < _SHORTEST_LINE and line[: len(FORM)] == FORM[: len(line)]
