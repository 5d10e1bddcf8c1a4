"""The recordings in tests/audio: what is said in them, and what the tool's listeners make of them.

They are synthetic speech by freely licensed voices (tests/corpora/README.md), split into tuning and test voices there;
only test voices are here. Natural voices are neural networks trained on recordings; the others (formant, diphone, small
statistical) are old synthesisers, much harder to understand than people are, kept for what they show: what is not
understood must be asked about or left out, never entered wrongly.
"""

import csv
import os
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from multiprocessing import get_context
from pathlib import Path

import numpy as np
import soundfile
import soxr

from tests.english import ENGLISH, load
from voicelog.hearing.decision import decide
from voicelog.hearing.engines.chosen import chosen_engine
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.hear_one import hear_samples
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.measuring.manifests import EXAM_RULES
from voicelog.phrases.lines import LineReader, NotAPhraseError
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.outcome import Outcome
from voicelog.settings import Settings

AUDIO = Path(__file__).parent.parent / "audio"
_PROCESSES = min(2, os.cpu_count() or 1)


@dataclass(frozen=True, slots=True)
class Clip:
    """One row of the index."""

    set_name: str
    speaker: str
    transcript: str
    file: str
    start_s: float
    end_s: float

    @property
    def samples(self) -> Samples:
        """The sound, 16 kHz."""
        edges = (round(edge_s * SAMPLE_RATE_HZ) for edge_s in (self.start_s, self.end_s))
        return _recording(self.file)[slice(*edges)]


@dataclass(frozen=True, slots=True)
class HeardClip:
    """A clip, what became of it, and what was likeliest said in it."""

    clip: Clip
    outcome: Outcome
    meanings: Meanings | None


@cache
def _recording(name: str) -> Samples:
    samples, rate_hz = soundfile.read(AUDIO / name, dtype="float32")
    return np.asarray(soxr.resample(samples, rate_hz, SAMPLE_RATE_HZ), np.float32)


@cache
def index() -> tuple[Clip, ...]:
    """Every clip."""
    with (AUDIO / "index.tsv").open(encoding="utf-8", newline="") as file:
        return tuple(
            Clip(
                row["set"],
                row["speaker"],
                row["transcript"],
                row["file"],
                float(row["start_s"]),
                float(row["end_s"]),
            )
            for row in csv.DictReader(file, delimiter="\t")
        )


def clips(set_name: str) -> Iterator[tuple[str, str, Samples]]:
    """Speaker, transcript and sound of every clip of a set."""
    return ((clip.speaker, clip.transcript, clip.samples) for clip in index() if clip.set_name == set_name)


def meant(transcript: str) -> Meanings | None:
    """What was spoken; None where it is no phrase of the grammar, or one that can be two things."""
    try:
        readings = LineReader(load(), EXAM_RULES).understand(transcript).readings
    except NotAPhraseError:
        return None
    return readings[0] if len(readings) == 1 else None


def some_heard(engine: Engine, each: int) -> list[HeardClip]:
    """One in so many clips as it is heard, in this process: what the engine has expanded serves other tests too."""
    return [_heard(engine, clip) for clip in index()[::each]]


def all_heard() -> list[HeardClip]:
    """Every clip as it is heard, by a process for each core."""
    with ProcessPoolExecutor(_PROCESSES, get_context("spawn"), _begin) as pool:
        return list(pool.map(_hear, index(), chunksize=6))


_listeners: list[Engine] = []


def _begin() -> None:
    _listeners.append(chosen_engine(Settings(), load()))


def _hear(clip: Clip) -> HeardClip:
    return _heard(_listeners[0], clip)


def _heard(engine: Engine, clip: Clip) -> HeardClip:
    hearing = hear_samples(engine, clip.samples, EXAM_RULES)
    best = hearing.hypotheses[0].meanings if hearing.hypotheses else None
    return HeardClip(clip, decide(hearing, ENGLISH), best)
