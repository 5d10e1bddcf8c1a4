"""The settings file: TOML in the platform's place for configuration, or where `VOICELOG_SETTINGS` says."""

import logging
import os
from collections.abc import Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import platformdirs
import tomlkit
import tomlkit.exceptions
from pydantic import ValidationError
from pydantic_core import ErrorDetails

from voicelog.errors import VoicelogError, reason_of
from voicelog.settings.model import Settings
from voicelog.settings.table import allowed

_LOG = logging.getLogger(__name__)
_WARNED: set[Path] = set()


class SettingsError(VoicelogError):
    """The settings file cannot be used; says file, setting, value and what is allowed."""


def settings_path() -> Path:
    """Where the settings file lies: `VOICELOG_SETTINGS`, or the platform's place for configuration."""
    named = os.environ.get("VOICELOG_SETTINGS")
    return Path(named) if named else Path(platformdirs.user_config_dir("voicelog")) / "settings.toml"


def settings_exist(path: Path | None = None) -> bool:
    """Whether anything was ever set; False is a first start."""
    return (path or settings_path()).exists()


def load_settings(path: Path | None = None) -> Settings:
    """The settings of a file; the defaults when there is none.

    Raises SettingsError for a file that cannot be read or that holds anything but valid settings.
    """
    path = path or settings_path()
    settings = _validated(_document(path).unwrap(), path)
    _warn_of_readers(path, settings)
    return settings


def _warn_of_readers(path: Path, settings: Settings) -> None:
    """Say, once in a run, where a password can be read by others: whoever opened the file before may have it."""
    if settings.record_server is None or os.name != "posix" or path in _WARNED:
        return
    try:
        can_read = path.stat().st_mode & 0o077
    except OSError:
        return
    if can_read and _has_password(settings.record_server):
        _WARNED.add(path)
        _LOG.warning(
            "%s holds a password and can be read by other users: chmod 600 it, and change the password", path
        )


def _has_password(address: str) -> bool:
    """Whether a server's URL holds one, before its host or behind it."""
    try:
        parts = urlsplit(address)
    except ValueError:
        return False  # no URL: the record says so when it is opened
    return bool(parts.password) or "password" in parse_qs(parts.query, keep_blank_values=True)


def save_settings(changes: Mapping[str, Any], path: Path | None = None) -> Settings:
    """Put changes into the file and return what is in force; None takes a setting back to its default.

    Comments and order in the file stay. Raises SettingsError for a name or value that is not allowed, or a file that
    cannot be read or written; then the file is as it was.
    """
    path = path or settings_path()
    document = _document(path)
    for name, value in changes.items():
        if value is not None:
            document[name] = list(value) if isinstance(value, tuple) else value
        elif name in Settings.model_fields:
            document.pop(name, None)
        else:
            raise SettingsError(f"{name} is no setting; voicelog settings lists them")
    settings = _validated(document.unwrap(), path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        # Whole or not at all: a crash in the middle must not leave half a file.
        fresh = path.with_suffix(".new")
        fresh.unlink(missing_ok=True)
        # It may hold the password of the record's server.
        with os.fdopen(os.open(fresh, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600), "wb") as file:
            file.write(tomlkit.dumps(document).encode())
        fresh.replace(path)
    except OSError as error:
        raise SettingsError(f"{path} cannot be written: {reason_of(error)}") from None
    return settings


def _document(path: Path) -> tomlkit.TOMLDocument:
    if not path.exists():
        return tomlkit.document()
    try:
        return tomlkit.parse(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise SettingsError(f"{path} cannot be read: {reason_of(error)}") from None
    except (UnicodeDecodeError, tomlkit.exceptions.ParseError) as error:
        raise SettingsError(f"{path} is no settings file (TOML): {error}") from None


def _validated(values: Mapping[str, Any], path: Path) -> Settings:
    try:
        return Settings.model_validate(values)
    except ValidationError as error:
        raise SettingsError(f"{path}: {_wrong(error.errors()[0])}") from None


def _wrong(found: ErrorDetails) -> str:
    """Which setting, its value, and what is allowed."""
    name = str(found["loc"][0]) if found["loc"] else "file"
    if name not in Settings.model_fields:
        near = get_close_matches(name, Settings.model_fields, 1)
        return f"{name} is no setting; {f'there is {near[0]}' if near else 'voicelog settings lists them'}"
    why = f" ({found['msg'].removeprefix('Value error, ')})" if found["type"] == "value_error" else ""
    value = repr(found["input"])
    shown = value if len(value) <= 60 else f"{value[:60]} ..."
    return f"{name} = {shown}: allowed is {allowed(name)}{why}"
