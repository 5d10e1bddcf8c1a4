"""One file, one utterance: as `hear` and the benches listen."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import Path

import numpy as np

from voicelog.hearing.endpointing import Endpointer, EndpointingSettings, utterances
from voicelog.hearing.engines.protocol import Engine, Hearing, Samples
from voicelog.hearing.errors import AudioError
from voicelog.hearing.silero import SileroDetector
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block, FileSource

PADDING_S = 0.25
_FRAME = 512
# Of 200 recorded words and 200 digits all but one have a frame above this; two thirds of room sounds have none.
_SPEECH_AT_ALL = 0.3
_SETTINGS = EndpointingSettings()
_LONG = replace(_SETTINGS, trailing_silence_s=_SETTINGS.max_utterance_s / 2)
"""A pause in a file does not end what is said in it, but for the longest that the end-pointer allows."""


@dataclass(frozen=True, slots=True)
class HeardFile:
    """What was heard in a file. Where more was said than one utterance may take, `cut_s` says from which second on
    nothing was heard: what was heard before may then not be entered without a question.
    """

    hearing: Hearing
    cut_s: float | None = None


def hear_one(engine: Engine, path: Path, rule: str) -> HeardFile:
    """Hear a file as one utterance of `rule`; of a longer one what the end-pointer would cut off its beginning.

    Raises AudioError when the file cannot be read.
    """
    blocks = FileSource(path).blocks()
    begun: list[Block] = []
    for block in blocks:
        begun.append(block)
        if block.start_sample + block.samples.size > _SETTINGS.max_utterance_s * SAMPLE_RATE_HZ:
            return _first_of(engine, chain(begun, blocks), rule)
    if not begun:
        raise AudioError(path, "too short to hold sound")
    return HeardFile(hear_samples(engine, np.concatenate([block.samples for block in begun]), rule))


def _first_of(engine: Engine, blocks: Iterable[Block], rule: str) -> HeardFile:
    found = utterances(blocks, Endpointer(_LONG))
    first = next(found, None)
    if first is None:
        return HeardFile(_nothing(engine))
    is_all = first.whole and next(found, None) is None
    return HeardFile(engine.hear(first.samples, rule), None if is_all else first.end_sample / SAMPLE_RATE_HZ)


def hear_samples(engine: Engine, samples: Samples, rule: str) -> Hearing:
    """Hear sound (n,), 16 kHz, as one utterance; where nobody speaks nothing is heard."""
    padding = np.zeros(int(PADDING_S * SAMPLE_RATE_HZ), np.float32)
    padded = np.concatenate([padding, samples, padding])
    return engine.hear(padded, rule) if _somebody_speaks(padded) else _nothing(engine)


def _nothing(engine: Engine) -> Hearing:
    return Hearing(engine.name, (), "", 0.0, 0.0)


def _somebody_speaks(samples: Samples) -> bool:
    detector = SileroDetector()
    frames = (samples[start : start + _FRAME] for start in range(0, len(samples) - _FRAME + 1, _FRAME))
    return any(detector.probability(frame) >= _SPEECH_AT_ALL for frame in frames)
