"""The dictated exam that is shipped with the program; README.md beside it says how it was made."""

from importlib.resources import files
from pathlib import Path


def demo_audio() -> Path:
    """Its recording."""
    return Path(str(files("voicelog.demo"))) / "exam.flac"
