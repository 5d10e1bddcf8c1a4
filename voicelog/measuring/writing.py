"""Files that the measuring commands write."""

from pathlib import Path

from voicelog.errors import reason_of
from voicelog.measuring.errors import MeasuringError


def check_writable(*paths: Path | None) -> None:
    """Said before hours of measuring, not after. Raises MeasuringError."""
    for path in paths:
        if path is not None and not path.resolve().parent.is_dir():
            raise MeasuringError(f"{path}: its folder does not exist")


def write(path: Path, text: str) -> None:
    """Write a text. Raises MeasuringError."""
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise MeasuringError(f"{path}: cannot be written ({reason_of(error)})") from None
