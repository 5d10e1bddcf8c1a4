"""Confidence intervals, 95 %."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

from voicelog.optics.significance import chi_square_limit, student_limit

CONFIDENCE: Final = 0.95
_OUTSIDE: Final = 1.0 - CONFIDENCE


@dataclass(frozen=True, slots=True)
class Interval:
    """From `low` to `high`, in the unit of what it is of."""

    low: float
    high: float

    def holds(self, value: float) -> bool:
        """Whether a value is in it."""
        return self.low <= value <= self.high


def of_mean(values: Sequence[float]) -> Interval:
    """Interval of the mean of two or more independent values (Student's t)."""
    count, mean = len(values), fmean(values)
    variance = math.fsum((value - mean) ** 2 for value in values) / (count - 1)
    return around(mean, math.sqrt(variance / count), count - 1)


def around(value: float, standard_error: float, degrees: int) -> Interval:
    """Interval of a value with its standard error (Student's t)."""
    half = student_limit(_OUTSIDE, degrees) * standard_error
    return Interval(value - half, value + half)


def of_deviation(deviation: float, degrees: int) -> Interval:
    """Interval of a standard deviation with `degrees` degrees of freedom (chi-square)."""
    return Interval(
        deviation * math.sqrt(degrees / chi_square_limit(_OUTSIDE / 2.0, degrees)),
        deviation * math.sqrt(degrees / chi_square_limit(1.0 - _OUTSIDE / 2.0, degrees)),
    )
