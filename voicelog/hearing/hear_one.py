"""One file, one utterance: as `hear` and the benches listen."""

from pathlib import Path

import numpy as np

from voicelog.hearing.engines.protocol import Engine, Hearing, Samples
from voicelog.hearing.silero import SileroDetector
from voicelog.hearing.sources import SAMPLE_RATE_HZ, read_whole

LONGEST_S = 30.0
PADDING_S = 0.25
_FRAME = 512
# Of 200 recorded words and 200 digits all but one have a frame above this; two thirds of room sounds have none.
_SPEECH_AT_ALL = 0.3


def hear_one(engine: Engine, path: Path, rule: str) -> Hearing:
    """Hear a file as one utterance of `rule`.

    Raises AudioError when the file cannot be read or is longer than 30 s.
    """
    return hear_samples(engine, read_whole(path, LONGEST_S).samples, rule)


def hear_samples(engine: Engine, samples: Samples, rule: str) -> Hearing:
    """Hear sound (n,), 16 kHz, as one utterance; where nobody speaks nothing is heard."""
    padding = np.zeros(int(PADDING_S * SAMPLE_RATE_HZ), np.float32)
    padded = np.concatenate([padding, samples, padding])
    if not _somebody_speaks(padded):
        return Hearing(engine.name, (), "", 0.0, 0.0)
    return engine.hear(padded, rule)


def _somebody_speaks(samples: Samples) -> bool:
    detector = SileroDetector()
    frames = (samples[start : start + _FRAME] for start in range(0, len(samples) - _FRAME + 1, _FRAME))
    return any(detector.probability(frame) >= _SPEECH_AT_ALL for frame in frames)
