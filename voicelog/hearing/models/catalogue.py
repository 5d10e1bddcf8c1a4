"""The catalogue: models that are known, with their licence, where they come from, and the SHA-256 of every file."""

import hashlib
import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path

from pydantic import BaseModel, ConfigDict, ValidationError

from voicelog.errors import VoicelogError

_CHUNK = 1 << 20


class CatalogueError(VoicelogError):
    """The catalogue of models is missing or cannot be read."""


class Known(BaseModel):
    """One known model. `files` are paths within its folder and their SHA-256, hexadecimal."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    name: str
    engine: str
    language: str
    licence: str
    source: str
    package: str
    """The Python package that brings it along (as imported), and where in it the model lies."""
    folder: str
    files: Mapping[str, str]


def catalogue_path() -> Path:
    """Where the catalogue lies: inside the installed package, or beside it in a checkout. Raises CatalogueError."""
    package = Path(str(files("voicelog")))
    for path in (package / "_models" / "catalogue.toml", package.parent / "models" / "catalogue.toml"):
        if path.is_file():
            return path
    raise CatalogueError("the list of models is missing: install voicelog again")


@cache
def catalogue() -> tuple[Known, ...]:
    """All known models. Raises CatalogueError."""
    path = catalogue_path()
    try:
        entries = tomllib.loads(path.read_text(encoding="utf-8"))["model"]
        return tuple(Known(name=name, **entry) for name, entry in entries.items())
    except (
        OSError,
        UnicodeDecodeError,
        tomllib.TOMLDecodeError,
        KeyError,
        TypeError,
        ValidationError,
    ) as error:
        raise CatalogueError(
            f"{path} cannot be read as a catalogue of models: {str(error).splitlines()[0]}"
        ) from None


def sha256(path: Path) -> str:
    """SHA-256 of a file, hexadecimal."""
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            digest.update(chunk)
    return digest.hexdigest()


def model_sha256(folder: Path) -> str:
    """One SHA-256 for a whole folder: of its files' hashes with their paths, in order of paths."""
    digest = hashlib.sha256()
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        digest.update(f"{sha256(path)}  {path.relative_to(folder).as_posix()}\n".encode())
    return digest.hexdigest()


def as_catalogued(folder: Path, known: Known) -> bool:
    """Whether every file that the catalogue names is there with the same content."""
    return all(
        (folder / name).is_file() and sha256(folder / name) == expected
        for name, expected in known.files.items()
    )
