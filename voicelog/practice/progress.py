"""The learner's own store: a line of JSON for each lesson, added at the end and never changed, beside the record.

A line is written in one piece and made durable. A kill in the middle of it leaves a torn line: it is left out when the
file is read, said so, and the next lesson begins a line of its own.
"""

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from pydantic import ValidationError

from voicelog.errors import VoicelogError, reason_of
from voicelog.practice.results import LessonResult
from voicelog.record.places import data_folder, private_file, private_folder

NAME: Final = "practice.jsonl"


class ProgressError(VoicelogError):
    """The store of lessons cannot be read or written; says the file and why."""


@dataclass(frozen=True, slots=True)
class Progress:
    """Lessons in their order, and how many lines could not be read."""

    lessons: tuple[LessonResult, ...] = ()
    unread: int = 0


def progress_path() -> Path:
    """Where lessons are kept."""
    return data_folder() / NAME


def keep(result: LessonResult, path: Path | None = None) -> None:
    """Add a lesson. Raises ProgressError; what was kept before stays as it is."""
    path = path or progress_path()
    try:
        private_folder(path.parent)
        private_file(path)
        handle = os.open(path, os.O_RDWR | os.O_APPEND)
        try:
            line = f"{'' if _ends_whole(handle) else chr(10)}{result.model_dump_json()}\n".encode()
            written = os.write(handle, line)
            os.fsync(handle)
        finally:
            os.close(handle)
    except OSError as error:
        raise ProgressError(f"{path} cannot be written: {reason_of(error)}") from None
    if written < len(line):
        raise ProgressError(f"{path} cannot be written: no room is left on the disk")


def kept(path: Path | None = None) -> Progress:
    """All lessons that were kept; none without a file. Raises ProgressError for a file that cannot be read."""
    path = path or progress_path()
    try:
        lines = path.read_bytes().split(b"\n")
    except FileNotFoundError:
        return Progress()
    except OSError as error:
        raise ProgressError(f"{path} cannot be read: {reason_of(error)}") from None
    lessons, unread = [], 0
    for line in lines:
        if not line.strip():
            continue
        try:
            lessons.append(LessonResult.model_validate_json(line))
        except ValidationError:
            unread += 1
    return Progress(tuple(lessons), unread)


def _ends_whole(handle: int) -> bool:
    """Whether the file ends with a whole line."""
    size = os.lseek(handle, 0, os.SEEK_END)
    if size == 0:
        return True
    os.lseek(handle, size - 1, os.SEEK_SET)
    return os.read(handle, 1) == b"\n"
