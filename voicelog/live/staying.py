"""A recording that is followed by silence until it is closed, so that an exam goes on with what is typed."""

import threading
import time
from collections.abc import Iterator
from typing import Final

import numpy as np

from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block, FileSource

_SIZE: Final = 512
_AT_ONCE_S: Final = 1.0  # ends the last utterance without a wait


class StayingSource:
    """The blocks of a recording, then silent ones at real pace."""

    def __init__(self, recording: FileSource) -> None:
        self._recording = recording
        self._closed = threading.Event()

    @property
    def notes(self) -> tuple[str, ...]:
        """What was odd about the recording."""
        return self._recording.notes

    def close(self) -> None:
        """End `blocks` soon."""
        self._closed.set()
        self._recording.close()

    def blocks(self) -> Iterator[Block]:
        """The recording, then silence until it is closed."""
        start = 0
        for block in self._recording.blocks():
            start = block.end_sample
            yield block
        at_once = start + _AT_ONCE_S * SAMPLE_RATE_HZ
        while not self._closed.wait(0.0 if start < at_once else _SIZE / SAMPLE_RATE_HZ):
            yield Block(np.zeros(_SIZE, np.float32), start, time.monotonic())
            start += _SIZE
