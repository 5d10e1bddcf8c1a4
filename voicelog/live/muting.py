"""Tells a muted microphone from a quiet room: no sound at all, or much less than the room's own noise, for seconds."""

from collections import deque
from typing import Final

import numpy as np

from voicelog.hearing.levels import FLOOR_DBFS, Samples, measure
from voicelog.hearing.sources import SAMPLE_RATE_HZ

MUTED_AFTER_S: Final = 5.0
_BELOW_ROOM_DB: Final = 12.0  # a switch takes away 20 dB and more; common practice, no source
_ROOM_PERCENTILE: Final = 10.0
_PIECE_SAMPLES: Final = SAMPLE_RATE_HZ // 2
_REMEMBERED_PIECES: Final = 120  # a minute
_LEAST_PIECES: Final = 20


class MuteWatch:
    """Is fed with the sound as it comes; `muted` says how it is now. Ends at the first sound.

    The room's noise is the level that nine tenths of all half seconds of the last minute exceed, muted ones apart.
    """

    def __init__(self) -> None:
        self.muted = False
        self._room_dbfs: deque[float] = deque(maxlen=_REMEMBERED_PIECES)
        self._piece: list[Samples] = []
        self._size = 0
        self._quiet_s = 0.0

    def heard(self, samples: Samples) -> None:
        """Take some sound, shape (n,), 16 kHz."""
        if self.muted and samples.size and not self._is_quiet(measure(samples).rms_dbfs):
            self._reset()
        self._piece.append(samples)
        self._size += samples.size
        if self._size < _PIECE_SAMPLES:
            return
        level_dbfs = measure(np.concatenate(self._piece)).rms_dbfs
        length_s, self._piece, self._size = self._size / SAMPLE_RATE_HZ, [], 0
        if self._is_quiet(level_dbfs):
            self._quiet_s += length_s
            self.muted = self._quiet_s >= MUTED_AFTER_S
        else:
            self._reset()
            self._room_dbfs.append(level_dbfs)

    def forget(self) -> None:
        """Another microphone, or the same one opened anew: its noise is not known."""
        self._reset()
        self._room_dbfs.clear()

    def _reset(self) -> None:
        self.muted, self._quiet_s = False, 0.0

    def _is_quiet(self, level_dbfs: float) -> bool:
        if level_dbfs <= FLOOR_DBFS:
            return True
        if len(self._room_dbfs) < _LEAST_PIECES:
            return False
        return level_dbfs < float(np.percentile(self._room_dbfs, _ROOM_PERCENTILE)) - _BELOW_ROOM_DB
