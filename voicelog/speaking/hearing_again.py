"""A stretch of own sound heard once more when all of it is there: with its own delay, by a filter that has learned.

While it sounds the canceller may still be learning, or the drivers may have held it for longer than before: what is
left then passes for somebody's voice. Afterwards the delay can be read off the stretch itself, and what was learned at
its end holds for its beginning too.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np

from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.speaking.canceller import BLOCK_SAMPLES, Canceller
from voicelog.speaking.delays import WINDOW_S, delay_samples, longest_samples
from voicelog.speaking.trust import Left, Proof, power

DIRECT_SAMPLES: Final = 320
"""Where in the filter the first sound is put: 20 ms, so that a little less can be, too."""
_LEARNING_S: Final = 1.5  # from less a filter that knows nothing learns too little
_LONGEST_S: Final = 20.0
# Tried on reckoned rooms: with less of either, the first half second passed for somebody's voice now and then.
_TIMES: Final = 3
_CAUTION: Final = 4.0  # 6 dB: having heard it before, the filter is surer of itself than it may be

_SAME_SAMPLES: Final = 8

Track = tuple[tuple[int, int], ...]
"""From which sample on which number of samples holds; the first from 0 on."""
Played = Callable[[int, int], Samples]
"""What was given out from a place on (16 kHz), so many samples."""


@dataclass(frozen=True, slots=True, eq=False)
class Again:
    """What is left of a stretch, block by block from its beginning, and what was learned of it.

    `shift` is what must be added to a place of the microphone for the place of the reference; `power` that of all that
    is left.
    """

    blocks: tuple[Left, ...]
    shift: int
    canceller: Canceller
    power: float

    @property
    def samples(self) -> Samples:
        """The sound without the program's own."""
        return np.concatenate([np.zeros(0, np.float32), *(each.samples for each in self.blocks)])


@dataclass(frozen=True, slots=True, eq=False)
class Stretch:
    """Sound of the microphone, shape (n,), 16 kHz, from its place `start` on, while the program sounded.

    `base` is the shift of sound that were on its way for no time at all; `noise` the power of the room's noise.
    """

    heard: Samples
    start: int
    played: Played
    base: int
    noise: float

    def reference(self, shifts: Track) -> Samples:
        """What was given out meanwhile, as a filter is given it that has its reference at these shifts."""
        places = [at for at, _ in shifts] + [self.heard.size]
        return np.concatenate(
            [
                self.played(self.start + at + shift, end - at)
                for (at, shift), end in zip(shifts, places[1:], strict=True)
            ]
        )

    def delays(self) -> Track:
        """From where on it is how many samples behind what was given out, wherever that is clear.

        A driver that runs dry holds the sound for longer from then on.
        """
        count, longest = round(WINDOW_S * SAMPLE_RATE_HZ), longest_samples()
        last = max(0, self.heard.size - count)
        found = list[tuple[int, int]]()
        for at in (*range(0, last, count // 2), last):
            piece = self.heard[at : at + count]
            delay = delay_samples(
                self.played(self.start + at + self.base - longest, longest + piece.size), piece
            )
            if delay is None or (found and abs(delay - found[-1][1]) <= _SAME_SAMPLES):
                continue
            found.append((at + count // 4 if found else 0, delay))
        return tuple(found)


def heard_again(stretch: Stretch, canceller: Canceller, shift: int) -> Again | None:
    """What is left of a stretch; None where it does not show that its echo is taken away.

    `canceller` is tried as it was used, and with the stretch's own delay; so is one that knows only the stretch.
    """
    if stretch.heard.size > _LONGEST_S * SAMPLE_RATE_HZ:
        return None
    tried = (_passed(stretch, *each) for each in _candidates(stretch, canceller, shift))
    return min((each for each in tried if each is not None), key=lambda each: each.power, default=None)


def _candidates(stretch: Stretch, canceller: Canceller, shift: int) -> Iterator[tuple[Canceller, Track, int]]:
    """Cancellers, their shifts, and how often each hears the stretch."""
    yield canceller.copy(), ((0, shift),), 1
    delays, strongest = stretch.delays(), canceller.strongest
    # A delay that shows in one place may be chance: each by itself, too.
    tracks = {delays, delays[:1], ((0, delays[-1][1]),)} if delays else set[Track]()
    for each in tracks:
        if strongest is not None:
            yield canceller.copy(), _shifts(stretch, each, strongest), 1
        if stretch.heard.size >= _LEARNING_S * SAMPLE_RATE_HZ:
            yield Canceller(), _shifts(stretch, each, DIRECT_SAMPLES), _TIMES


def _shifts(stretch: Stretch, delays: Track, first_sound: int) -> Track:
    """The shifts that put the first sound to a place of the filter."""
    return tuple((at, stretch.base - delay + first_sound) for at, delay in delays)


def _passed(stretch: Stretch, canceller: Canceller, shifts: Track, times: int) -> Again | None:
    """The last time that it was heard; None where it was not shown that the echo is gone, or that there is none."""
    reference = stretch.reference(shifts)
    pieces = [
        (reference[at : at + BLOCK_SAMPLES], stretch.heard[at : at + BLOCK_SAMPLES])
        for at in range(0, stretch.heard.size - BLOCK_SAMPLES + 1, BLOCK_SAMPLES)
    ]
    for _ in range(times - 1):
        for given, heard in pieces:
            canceller.clean(given, heard)
    proof, blocks = Proof(), list[Left]()
    for given, heard in pieces:
        blocks.append(Left(canceller.clean(given, heard), stretch.noise, _CAUTION))
        proof.heard(power(heard), blocks[-1].cleaned.power, stretch.noise)
    proof.end()
    if not proof.trusted:
        return None
    return Again(tuple(blocks), shifts[-1][1], canceller, sum(each.cleaned.power for each in blocks))
