"""Adding a model from a folder or a zip file: checked, unpacked safely, and there whole or not at all."""

import lzma
import os
import shutil
import stat
import struct
import tempfile
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import BinaryIO

from voicelog.errors import MissingPartError, VoicelogError
from voicelog.hearing.models.catalogue import as_catalogued, catalogue
from voicelog.hearing.models.places import Found, models_folder
from voicelog.hearing.models.vosk_folder import check_vosk_folder, missing_parts

LARGEST_BYTES = 8 * 1024**3
"""What a model may take on the disk; the largest published Vosk models take half of it (from memory)."""
MOST_FILES = 5_000
MOST_TIMES = 20
"""How much larger than the zip file its content may be; models are numbers, which shrink little (from memory)."""
LEFT_FREE_BYTES = 256 * 1024**2
"""What must stay free on the disk: the record needs room as well."""
_CHUNK = 1 << 20
_TORN = (
    OSError,
    EOFError,
    ValueError,
    RuntimeError,
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    struct.error,
)
"""What reading a damaged zip file raises, as trials with flipped bytes show."""


class ModelError(VoicelogError):
    """A model cannot be added or removed; says which and why."""


def add_model(source: Path, folder: Path | None = None) -> Found:
    """Copy a model from a folder or zip file into the models folder.

    Raises ModelError when the source is unsafe, too large, no model, or of a name that is taken; nothing is left
    behind then. The source stays as it is.
    """
    folder = folder or models_folder()
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=".adding-", dir=folder) as work:
            root = _model_root(_brought(source, Path(work)), source)
            name = source.stem if source.is_file() else source.resolve().name
            target = folder / _usable_name(name)
            if target.exists():
                raise ModelError(
                    f"a model {target.name!r} is already there; remove it first: voicelog models remove"
                )
            root.rename(target)
    except _TORN as error:
        why = " ".join(str(error).split()) or type(error).__name__
        raise ModelError(f"{source} cannot be added: {why}") from None
    known = next((each for each in catalogue() if as_catalogued(target, each)), None)
    return Found(target.name, "vosk", target, known, added=True)


def remove_model(name: str, folder: Path | None = None) -> None:
    """Delete a model that was added. Raises ModelError when there is none of that name."""
    folder = folder or models_folder()
    target = folder / _usable_name(name)
    if not target.is_dir() or target.is_symlink():
        raise ModelError(f"no model {name!r} was added; see: voicelog models list")
    try:
        # Renamed first: a removal that is cut short leaves no half of a model under its name.
        going = Path(tempfile.mkdtemp(prefix=".removing-", dir=folder)) / "model"
        target.rename(going)
        shutil.rmtree(going.parent)
    except OSError as error:
        raise ModelError(f"{target} cannot be removed: {error}") from None


def _usable_name(name: str) -> str:
    if not name or name.startswith(".") or any(char in name for char in "/\\:\0") or not name.isprintable():
        raise ModelError(f"{name!r} is no usable name for a model")
    return name


def _brought(source: Path, work: Path) -> Path:
    inside = work / "model"
    inside.mkdir()
    if source.is_dir():
        _copy_folder(source, inside)
    elif zipfile.is_zipfile(source):
        _unpack(source, inside)
    else:
        raise ModelError(f"{source} is neither a folder nor a zip file")
    return inside


def _model_root(inside: Path, source: Path) -> Path:
    """The folder of the model itself: a zip file usually wraps it in one more."""
    entries = list(inside.iterdir())
    wrapped = len(entries) == 1 and entries[0].is_dir() and bool(missing_parts(inside))
    root = entries[0] if wrapped else inside
    try:
        check_vosk_folder(root)
    except MissingPartError as error:
        raise ModelError(str(error).replace(str(root), str(source))) from None
    return root


def _copy_folder(source: Path, target: Path) -> None:
    room = _Room(target)
    for at, folders, names in os.walk(source):
        here = Path(at)
        for name in (*folders, *names):
            if (here / name).is_symlink():
                raise ModelError(f"{here / name} is a link: put the file itself there")
        for name in names:
            path = here / name
            if not path.is_file():
                raise ModelError(f"{path} is no ordinary file")
            with path.open("rb") as reading:
                _copy(reading, target / path.relative_to(source), room)


def _unpack(source: Path, target: Path) -> None:
    with zipfile.ZipFile(source) as archive:
        members = archive.infolist()
        if len(members) > MOST_FILES:
            raise ModelError(f"{source} holds {len(members)} files; a model has at most {MOST_FILES}")
        stated = sum(member.file_size for member in members)
        if stated > MOST_TIMES * source.stat().st_size:
            raise ModelError(
                f"{source} would unpack to more than {MOST_TIMES} times its size: no model shrinks so"
            )
        room = _Room(target, stated)
        for member in members:
            path = _safe_path(member, source)
            if member.is_dir():
                continue
            with _open(archive, member) as reading:
                _copy(reading, target / path, room)


@contextmanager
def _open(archive: zipfile.ZipFile, member: zipfile.ZipInfo) -> Iterator[BinaryIO]:
    with archive.open(member) as reading:
        yield reading  # type: ignore[misc]  # typeshed calls it IO[bytes]


def _safe_path(member: zipfile.ZipInfo, source: Path) -> PurePosixPath:
    """The member's path, if it stays inside. Raises ModelError for absolute paths, `..`, links and other devices."""
    path = PurePosixPath(member.filename)
    parts = path.parts
    if path.is_absolute() or ".." in parts or not parts or any("\\" in part or ":" in part for part in parts):
        raise ModelError(f"{source} holds a path that leads outside: {member.filename!r}")
    kind = stat.S_IFMT(member.external_attr >> 16)
    if kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        raise ModelError(f"{source} holds a link or device: {member.filename!r}")
    return path


class _Room:
    """Counts what was written, as it is written: sizes that an archive states are not believed.

    What it states is enough to refuse it before anything is written. Raises ModelError then.
    """

    def __init__(self, target: Path, stated: int = 0) -> None:
        self._files = 0
        self._bytes = 0
        self._most = LARGEST_BYTES
        free = shutil.disk_usage(target).free - LEFT_FREE_BYTES
        if free < self._most:
            self._most, self._why = max(0, free), "there is no room for it on the disk"
        else:
            self._why = f"more than {LARGEST_BYTES // 1024**3} GiB are no model"
        self.bytes(stated)
        self._bytes = 0

    def file(self) -> None:
        self._files += 1
        if self._files > MOST_FILES:
            raise ModelError(f"more than {MOST_FILES} files are no model")

    def bytes(self, count: int) -> None:
        self._bytes += count
        if self._bytes > self._most:
            raise ModelError(self._why)


def _copy(reading: BinaryIO, target: Path, room: _Room) -> None:
    room.file()
    target.parent.mkdir(parents=True, exist_ok=True)
    with target.open("xb") as writing:  # a name that comes twice is an error
        while chunk := reading.read(_CHUNK):
            room.bytes(len(chunk))
            writing.write(chunk)
