"""How well one examiner repeats a retinoscopy, from passes over the same eye."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from voicelog.optics.audit.intervals import Interval, of_deviation
from voicelog.optics.refraction import PowerVector
from voicelog.optics.rounding import QUARTER_D
from voicelog.optics.uncertainty import ErrorModel

BETWEEN_TWO: Final = 1.96 * math.sqrt(2.0)
"""Two measurements of one subject lie within this many standard deviations in 95 % (Bland & Altman, Lancet 1986)."""
_READINGS: Final = 2.0  # a pass usually has two meridians; M is their mean


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Standard deviation of one pass, dioptres, of M, J0 and J45, with its interval.

    `eyes` with two or more passes gave `passes`; `degrees` of freedom are passes less eyes.
    """

    eyes: int
    passes: int
    m_sd_d: float
    m_interval_d: Interval
    j0_sd_d: float
    j0_interval_d: Interval
    j45_sd_d: float
    j45_interval_d: Interval

    @property
    def degrees(self) -> int:
        """Degrees of freedom."""
        return self.passes - self.eyes

    @property
    def m_repeats_within_d(self) -> float:
        """Two passes over one eye differ by no more than this in M, in 95 %, dioptres."""
        return BETWEEN_TWO * self.m_sd_d


def repeatability(eyes: Sequence[Sequence[PowerVector]]) -> Repeatability | None:
    """From the passes of each eye; eyes with one pass tell nothing, None when there is no other.

    The variances within eyes are pooled (one-way analysis of variance, Bland & Altman 1986).
    """
    repeated = [each for each in eyes if len(each) > 1]
    if not repeated:
        return None
    degrees = sum(len(each) - 1 for each in repeated)
    deviations = [
        math.sqrt(sum(_squares([getattr(vector, part) for vector in each]) for each in repeated) / degrees)
        for part in ("m_d", "j0_d", "j45_d")
    ]
    m, j0, j45 = deviations
    m_interval, j0_interval, j45_interval = (of_deviation(each, degrees) for each in deviations)
    passes = sum(len(each) for each in repeated)
    return Repeatability(len(repeated), passes, m, m_interval, j0, j0_interval, j45, j45_interval)


def own_errors(repeats: Repeatability, lens_step_d: float = QUARTER_D) -> ErrorModel:
    """The error model with the examiner's own judgement of neutrality for the published one.

    M is the mean of two readings, so one reading varies by sqrt(2) of its standard deviation; the step of the lenses
    (uniform, step/sqrt(12)) is taken out. Distance held unevenly between passes stays in: the value is cautious.
    """
    reading = _READINGS * repeats.m_sd_d**2 - lens_step_d**2 / 12.0
    return ErrorModel(lens_step_d=lens_step_d, neutrality_sd_d=math.sqrt(max(0.0, reading)))


def _squares(values: Sequence[float]) -> float:
    mean = sum(values) / len(values)
    return sum((value - mean) ** 2 for value in values)
