"""The sound of entries, one FLAC file each, in a folder an exam beside the database; named by its SHA-256.

A clip is on the disk before the event that names it, so a clip without an event can be left over after a crash,
never an event whose clip was lost by it. Clips go when their days are over; hash, length and transcript stay.
"""

import hashlib
import io
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, Literal

import numpy as np
import soundfile

from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.record.errors import RecordError, in_plain_words
from voicelog.record.names import is_name
from voicelog.record.places import private_folder, write_private

ClipState = Literal["kept", "missing", "altered"]
MOST_DAYS: Final = 36_500
_SUFFIX: Final = ".flac"


@dataclass(frozen=True, slots=True)
class Clip:
    """A clip as an event names it: hash (None when clips are not kept) and length in seconds."""

    hash: str | None
    length_s: float


class Clips:
    """The clips of one machine; kept for `days` days, 0 keeps none."""

    def __init__(self, folder: Path, days: int) -> None:
        if not 0 <= days <= MOST_DAYS:
            raise RecordError(
                f"clips cannot be kept for {days} days; allowed are 0 (none are kept) to {MOST_DAYS}"
            )
        self.folder = folder
        self.days = days

    def keep(self, exam: str, samples: Samples) -> Clip:
        """Write samples, shape (n,), float in -1 to 1 at 16 kHz, and sync them to the disk. Raises RecordError."""
        length_s = round(len(samples) / SAMPLE_RATE_HZ, 3)
        if self.days == 0:
            return Clip(None, length_s)
        content = flac(samples)
        name = hashlib.sha256(content).hexdigest()
        with in_plain_words(str(self.folder)):
            private_folder(self.folder)
            place = private_folder(self.folder / exam) / (name + _SUFFIX)
            write_private(place, content, part_in=self.folder)
        return Clip(name, length_s)

    def path(self, exam: str, clip: str) -> Path:
        """Where a clip lies, whether it is there or not."""
        return self.folder / exam / (clip + _SUFFIX)

    def state(self, exam: str, clip: str) -> ClipState:
        """Whether a clip is there as it was written; reads it whole."""
        try:
            content = self.path(exam, clip).read_bytes()
        except OSError:
            return "missing"
        return "kept" if hashlib.sha256(content).hexdigest() == clip else "altered"

    def has(self, exam: str) -> bool:
        """Whether an exam has a folder here."""
        return (self.folder / exam).is_dir()

    def exams(self) -> list[str]:
        """The exams that have a folder here, the oldest first. Raises RecordError."""
        with in_plain_words(str(self.folder)):
            found = self.folder.iterdir() if self.folder.is_dir() else ()
            return sorted(each.name for each in found if is_name(each.name) and each.is_dir())

    def files(self, exam: str) -> dict[str, datetime]:
        """The files of an exam by name, without the suffix of clips, and when each was written. Raises RecordError."""
        with in_plain_words(str(self.folder)):
            return {
                each.name.removesuffix(_SUFFIX): datetime.fromtimestamp(each.stat().st_mtime, UTC)
                for each in (self.folder / exam).iterdir()
            }

    def remove(self, exam: str, names: list[str]) -> None:
        """Remove files by the names that `files` gives, and the folder with its last. Raises RecordError."""
        folder = self.folder / exam
        with in_plain_words(str(self.folder)):
            for name in names:
                self.path(exam, name).unlink(missing_ok=True)
                (folder / name).unlink(missing_ok=True)
            if not any(folder.iterdir()):
                folder.rmdir()


def flac(samples: Samples) -> bytes:
    """Samples, shape (n,), float in -1 to 1 at 16 kHz, as a FLAC file of 16 bits."""
    file = io.BytesIO()
    whole = np.clip(samples, -1.0, 1.0)
    soundfile.write(file, whole, SAMPLE_RATE_HZ, format="FLAC", subtype="PCM_16")
    return file.getvalue()
