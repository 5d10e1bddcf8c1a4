"""The whole synthetic corpus of trade phrases, by one command.

    python -m tests.corpora.make_corpus PHRASES OUT --noise FOLDER... [--each 40] [--voices ...] [--jobs 2]

PHRASES has one phrase a line. Every phrase is said by every voice (or each voice says `--each` of them, going
round the list), and each clip is kept quiet, in a bare room with the microphone on the desk and out of reach,
and with noise at 20, 10, 5 and 0 dB, near the microphone in a furnished room and with the microphone at the
mouth. OUT gets a folder a condition and manifest.tsv: path, transcript, speaker, set, condition, snr_db, split. Voices and noise of the tuning
half never meet those of the test half. What exists is not made again.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from .engines import SpeechError
from .rooms import CONSULTING_ROOM, FAR_ROOM, REVERBERANT_ROOM, NoiseShelf, Room, add_noise, reverberated
from .synthesise import (
    Row,
    Task,
    add_voice_options,
    dry_row,
    in_parallel,
    read_flac,
    read_texts,
    render,
    write_flac,
    write_manifest,
)
from .voices import Split, Voice, select

SNRS_DB = (20, 10, 5, 0)


@dataclass(frozen=True, slots=True)
class Condition:
    """How a dry clip is spoilt: by a room, and by noise unless `snr_db` is None."""

    name: str
    room: Room | None
    """None: the microphone is at the mouth, and the room does not count."""
    snr_db: int | None


CONDITIONS = (
    Condition("reverberant", REVERBERANT_ROOM, None),
    Condition("far", FAR_ROOM, None),
    *(Condition(f"noise{snr_db:02}", CONSULTING_ROOM, snr_db) for snr_db in SNRS_DB),
    *(Condition(f"close{snr_db:02}", None, snr_db) for snr_db in SNRS_DB),
)


@dataclass(frozen=True, slots=True)
class Mix:
    """One spoilt clip: the dry task, the condition, and the corpus folder."""

    task: Task
    condition: Condition
    root: Path

    @property
    def path(self) -> Path:
        """Where the spoilt clip lies."""
        return self.root / self.condition.name / self.task.voice.name / self.task.path.name

    def row(self) -> Row:
        """The clip's line in the manifest."""
        snr = "" if self.condition.snr_db is None else str(self.condition.snr_db)
        path = self.path.relative_to(self.root).as_posix()
        voice = self.task.voice
        return Row(path, self.task.text, voice.name, "phrases", self.condition.name, snr, voice.split)


def spoil(mix: Mix, shelves: Mapping[Split, NoiseShelf]) -> str:
    """Make one spoilt clip unless it is there; returns what went wrong, or an empty string."""
    if mix.path.exists():
        return ""
    try:
        wet = read_flac(mix.task.path)
        if mix.condition.room is not None:
            wet = reverberated(wet, mix.condition.room)
        if mix.condition.snr_db is not None:
            key = f"{mix.condition.name} {mix.task.path.stem}"
            wet = add_noise(wet, shelves[mix.task.voice.split].pick(key), mix.condition.snr_db, key)
        write_flac(mix.path, wet)
    except ValueError as error:
        return f"{mix.path}: {error}"
    return ""


def plan(phrases: Sequence[str], voices: Sequence[Voice], root: Path, each: int) -> list[Task]:
    """The dry clips: every voice says `each` phrases, the next going on where it stopped; 0 means all."""
    count = min(each, len(phrases)) or len(phrases)
    return [
        Task(phrases[(number * count + place) % len(phrases)], voice, root / "quiet")
        for number, voice in enumerate(voices)
        for place in range(count)
    ]


def make(tasks: Sequence[Task], root: Path, noise: Sequence[Path], jobs: int) -> None:
    """Render the dry clips, spoil them in every condition, write the manifest.

    Raises SpeechError when clips could not be made, ValueError when a half has no noise recordings.
    """
    shelves = {half: NoiseShelf.of(noise, half) for half in {task.voice.split for task in tasks}}
    render(tasks, jobs)
    mixes = [Mix(task, condition, root) for condition in CONDITIONS for task in tasks]
    complaints = in_parallel(partial(spoil, shelves=shelves), mixes, jobs)
    if complaints:
        raise SpeechError(f"{len(complaints)} clips could not be spoilt:\n" + "\n".join(complaints[:20]))
    rows = [dry_row(task, root, "phrases") for task in tasks] + [mix.row() for mix in mixes]
    write_manifest(root / "manifest.tsv", rows)


def main(arguments: Sequence[str] | None = None) -> int:
    """Make the corpus."""
    parser = argparse.ArgumentParser(description="Make the synthetic corpus of trade phrases.")
    parser.add_argument("phrases", type=Path)
    parser.add_argument("out", type=Path)
    parser.add_argument("--noise", type=Path, nargs="+", required=True, help="folders of noise recordings")
    parser.add_argument("--each", type=int, default=0, help="phrases for each voice (default: all of them)")
    add_voice_options(parser)
    given = parser.parse_args(arguments)
    voices = select(given.voices, given.split, given.natural)
    try:
        tasks = plan(read_texts(given.phrases), voices, given.out, given.each)
        make(tasks, given.out, given.noise, given.jobs)
    except (SpeechError, ValueError) as error:
        print(error, file=sys.stderr)
        return 3
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
