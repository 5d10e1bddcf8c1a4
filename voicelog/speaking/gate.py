"""Keeps the program from taking its own voice for an entry.

The microphone is never switched off. Sound is cut into utterances all the time, also while the program
speaks, and each utterance is judged afterwards: `PlaybackGate.judge` says whether the program's own speech
overlaps it and from which sample on it may be trusted. So a barge-in (the examiner talks over the
read-back) is kept:

* Words that begin after the program's speech (and 0.3 s of echo) are whole, even when the end-pointer
  put both into one utterance: `Utterance.after(verdict.trusted_from)` gives just them.
* Words that begin before it and end after it come out of `Utterance.after` too, but not `whole`: a sign
  or a hundred may be drowned, so they are to be asked about ("say again"), not entered, and not dropped.
* With a headset the microphone does not hear the program (`own_speech_heard` False): nothing overlaps and
  every word counts.
* `barged_in` turns true when somebody clearly louder than the program's own speech at this microphone
  talks while it speaks; the session then calls `Speaker.stop`, so that the examiner need not wait.

Tones are not gated: they are no speech (the end-pointer finds none in them) and may sound while the next
entry is being spoken, which must not be lost for them.
"""

import threading
from collections import deque
from dataclasses import dataclass

import numpy as np

from voicelog.hearing.levels import measure
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block

_REMEMBERED_SAMPLES = 300 * SAMPLE_RATE_HZ
_LOUDER_DB = 10.0  # about twice as loud to the ear; common practice, no source
_TALKING_S = 0.15


@dataclass(frozen=True, slots=True)
class Verdict:
    """How much of an utterance is free of the program's own speech."""

    overlaps: bool
    trusted_from: int
    """Sample from which on it may be trusted: its start if nothing overlaps, its end if nothing is free."""


class PlaybackGate:
    """Knows when the program itself spoke. Safe to use from several threads.

    `heard` is fed with the source's blocks, `started` and `ended` with the speaker's times. `hangover_s`
    covers what the drivers buffer and the room adds.
    """

    def __init__(self, hangover_s: float = 0.3, own_speech_heard: bool = True) -> None:
        self.own_speech_heard = own_speech_heard
        self._hangover_samples = round(hangover_s * SAMPLE_RATE_HZ)
        self._lock = threading.Lock()
        self._last_arrival = (0.0, 0)
        self._spoken: deque[tuple[int, int]] = deque()
        self._speaking_from: int | None = None
        self._leak = _Leak()

    def heard(self, block: Block) -> None:
        """Note a block of the source; to be called for each, in order."""
        with self._lock:
            self._last_arrival = (block.arrived_s, block.end_sample)
            if self._speaking_from is not None:
                self._leak.heard(block)

    def started(self, at_s: float) -> None:
        """The program begins to speak at `at_s` (`time.monotonic()`); to be called at about that time."""
        with self._lock:
            self._speaking_from = self._sample_at(at_s)
            self._leak.begin()

    def ended(self, at_s: float) -> None:
        """The program's speech has ended at `at_s`, or was stopped then."""
        with self._lock:
            if self._speaking_from is None:
                return
            self._spoken.append((self._speaking_from, self._sample_at(at_s) + self._hangover_samples))
            self._speaking_from = None
            self._leak.finish()
            while self._spoken[0][1] < self._last_arrival[1] - _REMEMBERED_SAMPLES:
                self._spoken.popleft()

    @property
    def barged_in(self) -> bool:
        """Whether somebody talks over the speech that is going on; false while none is."""
        with self._lock:
            return self._speaking_from is not None and self._leak.exceeded

    def judge(self, start_sample: int, end_sample: int) -> Verdict:
        """How much of the speech [start_sample, end_sample) is free of the program's own."""
        verdict = Verdict(overlaps=False, trusted_from=start_sample)
        if not self.own_speech_heard:
            return verdict
        with self._lock:
            for first, end in self._spoken:
                if first < end_sample and end > start_sample:
                    verdict = Verdict(overlaps=True, trusted_from=min(end, end_sample))
            if self._speaking_from is not None and self._speaking_from < end_sample:
                verdict = Verdict(overlaps=True, trusted_from=end_sample)
        return verdict

    def _sample_at(self, time_s: float) -> int:
        """The sample captured at `time_s`, reckoned from the last block: at most a driver's delay early."""
        arrived_s, end_sample = self._last_arrival
        return max(0, end_sample + round((time_s - arrived_s) * SAMPLE_RATE_HZ))


class _Leak:
    """How loud the program's own speech is at the microphone, and whether something louder is there.

    The level is that of the last speech over which nobody talked, so the very first is never exceeded.
    """

    def __init__(self) -> None:
        self.exceeded = False
        self._own_dbfs: float | None = None
        self._levels_dbfs: list[float] = []
        self._louder_s = 0.0

    def begin(self) -> None:
        self.exceeded = False
        self._levels_dbfs = []
        self._louder_s = 0.0

    def heard(self, block: Block) -> None:
        level_dbfs = measure(block.samples).rms_dbfs
        self._levels_dbfs.append(level_dbfs)
        if self._own_dbfs is None:
            return
        louder = level_dbfs > self._own_dbfs + _LOUDER_DB
        self._louder_s = self._louder_s + block.samples.size / SAMPLE_RATE_HZ if louder else 0.0
        self.exceeded = self.exceeded or self._louder_s >= _TALKING_S

    def finish(self) -> None:
        if self._levels_dbfs and not self.exceeded:
            self._own_dbfs = float(np.percentile(self._levels_dbfs, 95))
