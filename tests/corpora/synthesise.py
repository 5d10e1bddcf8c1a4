"""Text to speech files: 16 kHz mono FLAC, one file a text and voice, made once and kept.

    python -m tests.corpora.synthesise TEXTS OUT [--voices A,B] [--split test] [--natural] [--jobs 2]

TEXTS is a file with one text a line, or a .tsv with a column `text`. OUT gets a folder a voice and
`manifest.tsv` (path, transcript, speaker, set, condition, snr_db, split). A file that exists is not made
again: its name comes from the text and every setting of the voice.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import os
import sys
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import astuple, dataclass
from pathlib import Path
from typing import TypeVar

import numpy as np
import soundfile
import soxr

from .engines import SpeechError, speak
from .levels import RATE_HZ, SPEECH_LEVEL_DBFS, Samples, active_level_dbfs, gained, trimmed
from .voices import Voice, select

Item = TypeVar("Item")

LEAD_S, TAIL_S = 0.25, 0.35
COLUMNS = ("path", "transcript", "speaker", "set", "condition", "snr_db", "split")


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a manifest; `snr_db` is empty where no noise was added."""

    path: str
    transcript: str
    speaker: str
    set: str
    condition: str
    snr_db: str
    split: str


@dataclass(frozen=True, slots=True)
class Task:
    """A text to be said by a voice, kept under `folder`."""

    text: str
    voice: Voice
    folder: Path

    @property
    def path(self) -> Path:
        """Where the clip lies: a name made from the text and the voice's settings."""
        voice = self.voice
        settings = (voice.engine, voice.engine_voice, voice.rate, voice.pitch, voice.shift, voice.british)
        name = hashlib.sha256(repr((self.text, settings)).encode()).hexdigest()[:16]
        return self.folder / voice.name / f"{name}.flac"


def synthesise(text: str, voice: Voice) -> Samples:
    """Say `text`: 16 kHz, shape (n,), speech at -26 dBFS, silence of LEAD_S before and TAIL_S after.

    Raises SpeechError when the voice cannot speak.
    """
    spoken = speak(text if text[-1:] in ".?!" else f"{text}.", voice)
    resampled = soxr.resample(spoken.samples, spoken.rate_hz, RATE_HZ).astype(np.float32)
    clip = trimmed(resampled, LEAD_S, TAIL_S)
    return gained(clip, SPEECH_LEVEL_DBFS - active_level_dbfs(clip))


def write_flac(path: Path, samples: Samples) -> None:
    """Write 16-bit FLAC at 16 kHz under a temporary name first, so that a file that exists is whole."""
    path.parent.mkdir(parents=True, exist_ok=True)
    unfinished = path.with_name(f".{os.getpid()}-{path.name}")
    soundfile.write(unfinished, samples, RATE_HZ, format="FLAC", subtype="PCM_16")
    unfinished.replace(path)


def read_flac(path: Path) -> Samples:
    """Samples of a file that this package wrote, shape (n,)."""
    samples, rate_hz = soundfile.read(path, dtype="float32")
    if rate_hz != RATE_HZ or samples.ndim != 1:
        raise ValueError(f"{path} is {rate_hz} Hz with {samples.ndim} dimensions; 16000 Hz mono is needed")
    return np.asarray(samples, dtype=np.float32)


def _make(task: Task) -> str:
    """Render one task unless it is there; returns what went wrong, or an empty string."""
    try:
        if not task.path.exists():
            write_flac(task.path, synthesise(task.text, task.voice))
    except (SpeechError, ValueError) as error:
        return f"{task.voice.name}: {task.text!r}: {error}"
    return ""


def in_parallel(work: Callable[[Item], str], items: Sequence[Item], jobs: int) -> list[str]:
    """Run `work` over `items` in low-priority processes; returns the complaints it gave."""
    with ProcessPoolExecutor(jobs, initializer=os.nice, initargs=(5,)) as pool:
        return [complaint for complaint in pool.map(work, items, chunksize=4) if complaint]


def render(tasks: Sequence[Task], jobs: int = 2) -> None:
    """Make every clip that is missing. Raises SpeechError listing the texts that could not be said."""
    complaints = in_parallel(_make, [task for task in tasks if not task.path.exists()], jobs)
    if complaints:
        raise SpeechError(f"{len(complaints)} clips could not be made:\n" + "\n".join(complaints[:20]))


def read_texts(path: Path) -> list[str]:
    """Texts of a file: the column `text` of a .tsv, else every line that is neither empty nor a # comment."""
    with path.open(encoding="utf-8", newline="") as lines:
        if path.suffix == ".tsv":
            return [row["text"] for row in csv.DictReader(lines, delimiter="\t")]
        return [line.strip() for line in lines if line.strip() and not line.startswith("#")]


def write_manifest(path: Path, rows: Iterable[Row]) -> None:
    """Write a manifest with a header line, tab-separated."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter="\t", lineterminator="\n", quoting=csv.QUOTE_NONE)
        writer.writerow(COLUMNS)
        writer.writerows(astuple(row) for row in rows)


def dry_row(task: Task, root: Path, set_name: str) -> Row:
    """The manifest line of a clip as the voice made it."""
    path = task.path.relative_to(root).as_posix()
    return Row(path, task.text, task.voice.name, set_name, "quiet", "", task.voice.split)


def add_voice_options(parser: argparse.ArgumentParser) -> None:
    """Options that choose voices and processes, the same for every command here."""
    parser.add_argument("--voices", default="", help="names, comma-separated (default: all)")
    parser.add_argument("--split", default="", choices=["", "tuning", "test"], help="voices of one half only")
    parser.add_argument("--natural", action="store_true", help="neural voices only")
    parser.add_argument("--jobs", type=int, default=2, help="processes (default 2)")


def main(arguments: Sequence[str] | None = None) -> int:
    """Render a file of texts with the chosen voices."""
    parser = argparse.ArgumentParser(description="Say texts with freely licensed voices.")
    parser.add_argument("texts", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--set", default="phrases", help="name in the manifest's `set` column")
    add_voice_options(parser)
    given = parser.parse_args(arguments)
    voices = select(given.voices, given.split, given.natural)
    tasks = [Task(text, voice, given.out) for voice in voices for text in read_texts(given.texts)]
    try:
        render(tasks, given.jobs)
    except SpeechError as error:
        print(error, file=sys.stderr)
        return 3
    write_manifest(given.out / "manifest.tsv", [dry_row(task, given.out, given.set) for task in tasks])
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
