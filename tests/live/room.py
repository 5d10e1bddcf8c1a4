"""A room that is reckoned, not heard: an examiner, a loudspeaker, its echo, a microphone; as fast as the computer can.

Time is the microphone's counter. Between two blocks the room waits until the exam has done all that it would have done,
so that recognition takes `thinking_s` of the room's time and no more, whatever else the computer has to do.
"""

import time
from collections.abc import Callable, Iterator

import numpy as np
import soxr

from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.live.exam import LiveExam
from voicelog.speaking.clocks import Clock
from voicelog.speaking.mixer import Mixer

BLOCK = 512
PATIENCE_S = 120.0


def impulse_response(random: np.random.Generator, *, latency_s: float, room_s: float) -> Samples:
    """A direct sound behind the latency, and reflections that die away by 60 dB within `room_s`; energy 1."""
    count = round(room_s * SAMPLE_RATE_HZ)
    tail = random.standard_normal(count) * 10.0 ** (-3.0 * np.arange(count) / count)
    tail[0] = 3.0
    tail /= np.sqrt(np.sum(tail**2))
    return np.concatenate([np.zeros(round(latency_s * SAMPLE_RATE_HZ)), tail]).astype(np.float32)


class Room:
    """`examiner` is what the microphone would hear without the program; `echo` is what its own sound comes to there.

    `next_words`, where given, is asked before each block for more that is said from there on.
    """

    def __init__(
        self,
        examiner: Samples,
        echo: Samples,
        *,
        jitter_s: float = 0.008,
        seed: int = 0,
    ) -> None:
        self.said = examiner.astype(np.float32)
        self.microphone: list[Samples] = []
        self.exam: LiveExam | None = None
        self._echo = echo.astype(np.float64)
        self._random = np.random.default_rng(seed)
        self._jitter_s = jitter_s
        self._tail = np.zeros(echo.size - 1)
        self._mixer: Mixer | None = None
        self._pulled: Clock | None = None
        self._closed = False
        self._began_s = time.monotonic()
        self.on_block: Callable[[int], None] = lambda start: None

    def plays(self, mixer: Mixer, pulled: Clock, on_problem: Callable[[str], None]) -> "Room":
        """The room's loudspeaker."""
        self._mixer, self._pulled = mixer, pulled
        self._to_16k = soxr.ResampleStream(mixer.rate_hz, SAMPLE_RATE_HZ, 1, dtype="float32")
        self._sounding = np.zeros(round(0.05 * SAMPLE_RATE_HZ), np.float32)  # the loudspeaker's own buffer
        return self

    def close(self) -> None:
        self._closed = True

    def blocks(self) -> Iterator[Block]:
        start = 0
        while start < self.said.size and not self._closed:
            self._settle()
            self.on_block(start)
            words = self.said[start : start + BLOCK]
            sound = words + self._heard_of_loudspeaker(start, words.size)
            self.microphone.append(sound)
            start += words.size
            yield Block(sound, start - words.size, self._time_s(start))

    def _heard_of_loudspeaker(self, start: int, count: int) -> Samples:
        if self._mixer is None or self._pulled is None:
            return np.zeros(count, np.float32)
        ratio = self._mixer.rate_hz // SAMPLE_RATE_HZ
        pulled = self._mixer.pull(count * ratio)
        self._pulled.note((start + count) * ratio, self._time_s(start + count))
        self._sounding = np.concatenate([self._sounding, self._to_16k.resample_chunk(pulled)])
        sounding, self._sounding = self._sounding[:count], self._sounding[count:]
        echo = np.convolve(sounding, self._echo)
        echo[: self._tail.size] += self._tail
        self._tail = echo[count:]
        return echo[:count].astype(np.float32)

    def _time_s(self, place: int) -> float:
        return self._began_s + place / SAMPLE_RATE_HZ + self._random.uniform(0.0, self._jitter_s)

    def _settle(self) -> None:
        give_up_s = time.monotonic() + PATIENCE_S
        while self.exam is not None and not self.exam.is_settled and not self._closed:
            if time.monotonic() > give_up_s:
                raise TimeoutError("the exam does not come to rest")
            time.sleep(0.001)
