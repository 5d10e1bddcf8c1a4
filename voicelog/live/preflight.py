"""The pre-flight: is the microphone good enough, is everything there, is one sample sentence understood?"""

import shutil
import threading
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from voicelog.errors import MissingPartError
from voicelog.hearing.decision import decide
from voicelog.hearing.endpointing import Endpointer
from voicelog.hearing.engines.protocol import Engine
from voicelog.hearing.levels import FLOOR_DBFS, Samples, clipped_fraction, measure
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block, Source
from voicelog.hearing.utterance import Utterance
from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import LINE_RULE, Grammar
from voicelog.phrases.lines import LineReader
from voicelog.phrases.plain_words import in_plain_words

SAMPLE_SENTENCE = "streak vertical neutral at plus three"

# Below 20 dB recognition begins to suffer, at 10 dB it does badly (docs/recognition.md).
LEAST_SPEECH_TO_NOISE_DB = 20.0
_MOST_CLIPPED = 0.001  # common practice, no source: clipping that is heard
_LEAST_ROOM_BYTES = 10**9  # FLAC takes about 60 MB an hour, so a year of daily clips
_FRAME_SAMPLES = 512
_FLOOR_PERCENTILE = 10.0
_NO_SOUND_S = 6.0


@dataclass(frozen=True, slots=True)
class Report:
    """What the pre-flight found. Levels are dBFS; None where there was no speech."""

    seconds: float
    level_dbfs: float
    noise_floor_dbfs: float
    speech_dbfs: float | None
    clipped_fraction: float
    engine: str
    disk_free_bytes: int
    heard: str | None
    outcome: str | None
    as_asked: bool
    """Whether the sample sentence was heard as it was asked for."""
    problems: tuple[str, ...]

    def as_json(self) -> dict[str, Any]:
        """Its fields."""
        return asdict(self)


def sound_of(source: Source, seconds: float) -> list[Block]:
    """The first `seconds` of a source, from its first sound on.

    Raises MissingPartError when a microphone gives none for some seconds.
    """
    found: list[Block] = []
    begun_s = time.monotonic()
    for block in _until_silent(source, begun_s + _NO_SOUND_S + seconds):
        found.append(block)
        if sum(each.samples.size for each in found) >= seconds * SAMPLE_RATE_HZ:
            break
    source.close()
    if not any(block.samples.size for block in found):
        raise MissingPartError(
            "no sound from the microphone: plug one in, or name one with --device; "
            "a recording can be used instead (--source FILE)"
        )
    return found


def _until_silent(source: Source, deadline_s: float) -> Iterator[Block]:
    """The blocks of a source; a lost microphone, which would be waited for, ends them at the deadline."""
    timer = threading.Timer(max(0.0, deadline_s - time.monotonic()), source.close)
    timer.daemon = True
    timer.start()
    try:
        yield from source.blocks()
    finally:
        timer.cancel()


def report(blocks: list[Block], engine: Engine, grammar: Grammar, folder: Path) -> Report:
    """What there is to say about some seconds of sound, and about room for clips in `folder`."""
    samples = np.concatenate([block.samples for block in blocks])
    spoken = _utterances(blocks)
    floor_dbfs = noise_floor_dbfs(samples)
    speech_dbfs = max((one.rms_dbfs for one in spoken), default=None)
    clipped = clipped_fraction(samples)
    heard, outcome, as_asked = _heard(spoken, engine, grammar)
    free = shutil.disk_usage(_existing(folder)).free
    return Report(
        seconds=samples.size / SAMPLE_RATE_HZ,
        level_dbfs=measure(samples).rms_dbfs,
        noise_floor_dbfs=floor_dbfs,
        speech_dbfs=speech_dbfs,
        clipped_fraction=clipped,
        engine=engine.name,
        disk_free_bytes=free,
        heard=heard,
        outcome=outcome,
        as_asked=as_asked,
        problems=tuple(_problems(floor_dbfs, speech_dbfs, clipped, free, as_asked)),
    )


def noise_floor_dbfs(samples: Samples) -> float:
    """Level that nine tenths of all 32 ms frames exceed: what is there when nobody speaks."""
    count = samples.size // _FRAME_SAMPLES
    if count == 0:
        return measure(samples).rms_dbfs
    frames = samples[: count * _FRAME_SAMPLES].reshape(count, _FRAME_SAMPLES)
    return float(np.percentile([measure(frame).rms_dbfs for frame in frames], _FLOOR_PERCENTILE))


def _utterances(blocks: list[Block]) -> list[Utterance]:
    ears = Endpointer()
    found = [one for block in blocks for one in ears.feed(block)]
    return found + ears.flush()


def sentence_heard(blocks: list[Block], engine: Engine, grammar: Grammar) -> tuple[str | None, bool]:
    """What was understood of the sample sentence, and whether it was that."""
    text, _, as_asked = _heard(_utterances(blocks), engine, grammar)
    return text, as_asked


def _heard(spoken: list[Utterance], engine: Engine, grammar: Grammar) -> tuple[str | None, str | None, bool]:
    """The best of what was said: its words, its outcome, and whether it is the sample sentence."""
    (wanted,) = LineReader(grammar, LINE_RULE, Layer.WRITTEN).understand(SAMPLE_SENTENCE).readings
    last: tuple[str | None, str | None, bool] = (None, None, False)
    for one in spoken:
        hearing = engine.hear(one.samples, LINE_RULE)
        best = hearing.hypotheses[0] if hearing.hypotheses else None
        text = in_plain_words(grammar, best.text) if best else hearing.free_text
        outcome = decide(hearing, grammar.language)
        last = (text, outcome, best is not None and best.meanings == wanted and outcome == "accepted")
        if last[2]:
            break
    return last


def _problems(
    floor_dbfs: float, speech_dbfs: float | None, clipped: float, free_bytes: int, as_asked: bool
) -> Iterator[str]:
    if floor_dbfs <= FLOOR_DBFS and speech_dbfs is None:
        yield "the microphone gives digital silence: it is muted, or not the one that is meant"
    elif speech_dbfs is None:
        yield "nobody was heard speaking: speak louder, or move the microphone nearer"
    elif speech_dbfs - floor_dbfs < LEAST_SPEECH_TO_NOISE_DB:
        yield (
            f"speech is only {speech_dbfs - floor_dbfs:.0f} dB above the noise, "
            f"{LEAST_SPEECH_TO_NOISE_DB:.0f} are wanted: a headset, or less noise"
        )
    if clipped > _MOST_CLIPPED:
        yield f"{100 * clipped:.1f} % of the sound is clipped: turn the microphone down"
    if free_bytes < _LEAST_ROOM_BYTES:
        yield f"only {free_bytes / 1e6:.0f} MB of disk are free for clips"
    if speech_dbfs is not None and not as_asked:
        yield f'"{SAMPLE_SENTENCE}" was not heard as such'


def _existing(folder: Path) -> Path:
    """The folder, or the nearest one above it that exists."""
    return next(each for each in (folder, *folder.parents) if each.exists())
