"""What the canceller has to be measured by: the room's noise, and whether it takes the echo away at all."""

from collections import deque
from dataclasses import dataclass
from typing import Final

import numpy as np

from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.speaking.canceller import BLOCK_SAMPLES, Cleaned

OVER_NOISE: Final = 6.0
"""8 dB: on trial speech was so far above the room's noise in every piece, what was left of the echo in none."""
_OVER_RESIDUAL: Final = 4.0  # 6 dB
_OF_ECHO: Final = 0.05  # -13 dB: a loudspeaker is never so straight that a filter could explain all of it
_CLEAN: Final = 10.0  # a voice so much stronger than what may be left of the echo is as good as alone: 10 dB
_PROOF_PIECES: Final = 16  # a quarter of a second
_PROOF: Final = 4.0  # 6 dB less
_FAILURES: Final = 2


class Noise:
    """The power of the room's noise on the canceller's scale: what is quietest, let rise by 1 dB a second."""

    def __init__(self) -> None:
        self.power = 0.0
        self._known = False

    def heard(self, samples: Samples) -> None:
        """Sound without the program's own, shape (n,)."""
        if samples.size < BLOCK_SAMPLES // 2:
            return
        found = power(samples) * BLOCK_SAMPLES / samples.size
        rise = 10.0 ** (0.1 * samples.size / SAMPLE_RATE_HZ)
        self.power = min(self.power * rise, found) if self._known and self.power > 0.0 else found
        self._known = True


@dataclass(frozen=True, slots=True, eq=False)
class Left:
    """A block behind the canceller: what of it may be echo, and what is somebody's voice.

    `caution` is by how much the filter's own idea of its error is too small. `noise` is the power of the room's noise.
    """

    cleaned: Cleaned
    noise: float
    caution: float = 1.0

    @property
    def echo(self) -> float:
        """The power of the echo that may be left."""
        return max(self.caution * self.cleaned.residual_power, _OF_ECHO * self.cleaned.echo_power)

    @property
    def near(self) -> bool:
        """Whether somebody speaks: it is clearly louder than the echo that may be left and than the noise."""
        return self.cleaned.power > _OVER_RESIDUAL * self.echo + OVER_NOISE * self.noise

    @property
    def clean(self) -> bool:
        """Whether there is nearly nothing but a voice."""
        return self.cleaned.power > _CLEAN * self.echo

    @property
    def samples(self) -> Samples:
        """The sound, made quiet where nobody speaks, so that what is left of the echo does not pass for speech."""
        if self.near:
            return self.cleaned.samples
        share = 1.0 - (self.echo + self.noise) / max(self.cleaned.power, 1e-12)
        return self.cleaned.samples * np.float32(np.sqrt(min(1.0, max(0.01, share))))


class Proof:
    """Whether the canceller has shown that it takes the echo away, or that there is none to speak of."""

    def __init__(self) -> None:
        self.trusted = False
        self._last: deque[tuple[float, float]] = deque(maxlen=_PROOF_PIECES)
        self._shown = self._loud = self._was_loud = False
        self._failed = 0

    @property
    def works(self) -> bool:
        """Whether what sounds now is taken away, too, as far as is known: an echo that was loud before is not missed.

        Drivers that ran dry hold the sound longer from then on; it then comes when nothing is expected.
        """
        return self.trusted and (self._loud or not self._was_loud)

    @property
    def is_shown(self) -> bool:
        """Whether the echo of the words that sound now, or sounded last, was seen to be taken away."""
        return self._shown

    def doubt(self) -> None:
        """The sound comes later or sooner than before: it must be shown again."""
        self.trusted, self._failed = False, 0

    def heard(self, before: float, after: float, noise: float) -> None:
        """Powers of a block before and after the canceller, and of the room's noise."""
        self._last.append((before, after))
        if len(self._last) < _PROOF_PIECES:
            return
        whole, left = (sum(column) for column in zip(*self._last, strict=True))
        self._loud = self._loud or whole > 2.0 * OVER_NOISE * noise * _PROOF_PIECES
        if whole > _PROOF * left and whole > OVER_NOISE * noise * _PROOF_PIECES:
            self._shown = self.trusted = True

    def end(self) -> None:
        """Words have ended."""
        if not self._loud and self._was_loud:
            self.trusted, self._failed = False, 0
        elif self._shown or not self._loud:
            self.trusted, self._failed = True, 0
        else:
            self._failed += 1
            self.trusted = self.trusted and self._failed < _FAILURES
        self._was_loud = self._was_loud or self._loud
        self._shown = self._loud = False
        self._last.clear()


def power(samples: Samples) -> float:
    """As the canceller counts: the sum over half the bins of a transform of `2 * BLOCK_SAMPLES` samples."""
    return BLOCK_SAMPLES * float(np.square(samples, dtype=np.float64).sum())
