"""The working distance that a difference of spherical equivalents looks like."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

from voicelog.optics.audit.intervals import Interval, of_mean

_NEAREST_M: Final = 0.02
_FARTHEST_M: Final = 10.0


@dataclass(frozen=True, slots=True)
class DistanceBias:
    """True working distance less the one that was said, metres: minus is nearer. `exams` it comes from."""

    exams: int
    bias_m: float
    interval_m: Interval


def distance_bias(exams: Sequence[Sequence[tuple[float, float]]]) -> DistanceBias | None:
    """The one error of distance that explains the mean difference of spherical equivalents.

    Each exam has its pairs: the distance that was said (metres), and spherical equivalent by retinoscopy less that of
    the other method (dioptres). Held at d + e instead of d, retinoscopy is off by 1/(d + e) - 1/d: nearer is too plus.
    The interval is that of the mean difference (Student's t over exams), each end carried over; so e is not averaged
    itself, which would favour farther. None of fewer than two exams, or where no distance explains the difference.
    Anything else that shifts all spheres (accommodation, fog left in) looks the same.
    """
    if len(exams) < 2:
        return None
    interval = of_mean([fmean(off for _, off in each) for each in exams])
    mean_d = (interval.low + interval.high) / 2.0

    shares: dict[float, float] = {}  # of each distance, an exam's eyes sharing what is one exam's
    for each in exams:
        for said, _ in each:
            shares[said] = shares.get(said, 0.0) + 1.0 / len(each) / len(exams)

    def shift_d(error_m: float) -> float:
        return sum(share * (1.0 / (said + error_m) - 1.0 / said) for said, share in shares.items())

    nearest = _NEAREST_M - min(shares)
    found = [_falls_to(shift_d, wanted, nearest) for wanted in (interval.high, mean_d, interval.low)]
    low, middle, high = found
    if low is None or middle is None or high is None:
        return None
    return DistanceBias(len(exams), middle, Interval(low, high))


def _falls_to(falling: Callable[[float], float], wanted: float, low: float) -> float | None:
    """Where a falling function takes a value, between `low` and the farthest distance; None when it does not."""
    high = _FARTHEST_M
    if not falling(low) >= wanted >= falling(high):
        return None
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if falling(middle) > wanted else (low, middle)
    return (low + high) / 2.0
