"""Which microphone was chosen last, so that it need not be named again."""

import json
from pathlib import Path

from voicelog.record.places import data_folder, private_folder, write_private

_NAME = "microphone.json"


def remembered(folder: Path | None = None) -> str | None:
    """The name given last; None when there is none, or the note cannot be read."""
    try:
        name = json.loads(((folder or data_folder()) / _NAME).read_text(encoding="utf-8"))["microphone"]
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return name if isinstance(name, str) else None


def remember(name: str | None, folder: Path | None = None) -> None:
    """Keep the name for the next time; None forgets it. Raises OSError."""
    place = private_folder(folder or data_folder())
    if name is None:
        (place / _NAME).unlink(missing_ok=True)
        return
    write_private(place / _NAME, json.dumps({"microphone": name}).encode())


def chosen(named: str | None, by_settings: str | None, folder: Path | None = None) -> str | None:
    """The microphone to listen to: named now, else in the settings, else given last; None: the system's default."""
    return named or by_settings or remembered(folder)


def for_exam(named: str | None, by_settings: str | None) -> str | None:
    """The microphone for an exam: as `chosen`; one that is named now is remembered, an empty name forgets it."""
    if named is None:
        return chosen(None, by_settings)
    remember(named or None)
    return named or None
