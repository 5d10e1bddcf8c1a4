"""Which exam is under way on this machine, so that one that was broken off is known at the next start."""

import json
import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from voicelog.record.places import data_folder, is_running, private_folder, write_private

_NAME: Final = "under-way.json"


@dataclass(frozen=True, slots=True)
class UnderWay:
    """An exam and the process that runs it."""

    exam: str
    process: int

    @property
    def runs(self) -> bool:
        """Whether the process is still there. Where that cannot be known (Windows) it counts as gone."""
        return is_running(self.process) if os.name == "posix" else self.process == os.getpid()


def begin(exam: str, folder: Path | None = None) -> None:
    """An exam is under way. Raises OSError."""
    place = private_folder(folder or data_folder())
    write_private(place / _NAME, json.dumps({"exam": exam, "process": os.getpid()}).encode())


def end(folder: Path | None = None) -> None:
    """No exam is under way any more. Raises OSError."""
    ((folder or data_folder()) / _NAME).unlink(missing_ok=True)


def broken_off(folder: Path | None = None) -> str | None:
    """The exam that was under way when its process ended; None where none was, or where it still runs."""
    try:
        noted = json.loads(((folder or data_folder()) / _NAME).read_text(encoding="utf-8"))
        found = UnderWay(str(noted["exam"]), int(noted["process"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return None if found.runs else found.exam
