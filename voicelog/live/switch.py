"""Push-to-talk: sound counts only while the switch is open, with a little before and after it.

Keys and foot switches come late and go early: sound from 0.75 s before the press until 0.5 s after the release counts,
of which a quarter second at either end is padding. Speech that is cut by either edge is marked as not whole, so that a
value in it is asked about.
"""

import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from typing import Literal

import numpy as np

from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block

Pedal = Literal["toggle", "hold"]

_BEFORE_S = 0.75
_AFTER_S = 0.5  # a quarter second more than the end-pointer pads: who is just finishing is not cut
_REPEAT_S = 0.12  # a key that is held down is sent again at least this often
_FIRST_REPEAT_S = 0.7  # after the first press it may take this long until it is sent again


class Switch:
    """Open or closed by key presses, from any thread.

    "toggle": a press opens, the next one closes; presses that follow within 0.12 s are the key's own repetition.
    "hold": open while the key goes on repeating, and for 0.7 s after the last press.
    """

    def __init__(self, pedal: Pedal = "toggle", clock: Callable[[], float] = time.monotonic) -> None:
        self._pedal = pedal
        self._clock = clock
        self._lock = threading.Lock()
        self._open = False
        self._pressed_s = float("-inf")

    def press(self) -> None:
        """A key was pressed, or repeats."""
        with self._lock:
            now_s = self._clock()
            if self._pedal == "hold":
                self._open = True
            elif now_s - self._pressed_s >= _REPEAT_S:
                self._open = not self._open
            self._pressed_s = now_s

    @property
    def is_open(self) -> bool:
        """Whether it listens now."""
        with self._lock:
            if self._pedal == "hold" and self._clock() - self._pressed_s > _FIRST_REPEAT_S:
                self._open = False
            return self._open


class Gated:
    """Lets through the blocks that count; an empty block with `after_gap` marks where sound was left out."""

    def __init__(self, switch: Switch) -> None:
        self._switch = switch
        self._waiting: deque[Block] = deque()
        self._passing = False
        self._left = 0

    def passed(self, block: Block) -> Iterator[Block]:
        """What of the sound up to this block counts; none while the switch is closed."""
        if self._switch.is_open:
            self._left = round(_AFTER_S * SAMPLE_RATE_HZ)
            if not self._passing:
                self._passing = True
                yield from self._waiting
                self._waiting.clear()
        if self._passing and self._left > 0:
            self._left -= block.samples.size
            yield block
            return
        if self._passing:
            self._passing = False
            yield Block(np.zeros(0, np.float32), block.start_sample, block.arrived_s, after_gap=True)
        self._keep(block)

    def _keep(self, block: Block) -> None:
        self._waiting.append(block)
        while self._waiting[-1].end_sample - self._waiting[0].end_sample >= _BEFORE_S * SAMPLE_RATE_HZ:
            self._waiting.popleft()
