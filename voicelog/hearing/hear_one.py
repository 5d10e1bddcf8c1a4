"""One file, one utterance: as `hear` and the benches listen."""

from pathlib import Path

import numpy as np

from voicelog.hearing.engines.protocol import Engine, Hearing, Samples
from voicelog.hearing.levels import measure
from voicelog.hearing.sources import SAMPLE_RATE_HZ, read_whole

LONGEST_S = 30.0
PADDING_S = 0.25
SILENCE_DBFS = -70.0  # below this nothing was said: the quietest of 1,341 spoken test words reaches -55


def hear_one(engine: Engine, path: Path, rule: str) -> Hearing:
    """Hear a file as one utterance of `rule`.

    Raises AudioError when the file cannot be read or is longer than 30 s.
    """
    return hear_samples(engine, read_whole(path, LONGEST_S).samples, rule)


def hear_samples(engine: Engine, samples: Samples, rule: str) -> Hearing:
    """Hear sound (n,), 16 kHz, as one utterance; silence is heard as nothing."""
    if measure(samples).peak_dbfs < SILENCE_DBFS:
        return Hearing(engine.name, (), "", 0.0, 0.0)
    padding = np.zeros(int(PADDING_S * SAMPLE_RATE_HZ), np.float32)
    return engine.hear(np.concatenate([padding, samples, padding]), rule)
