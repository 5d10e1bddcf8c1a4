"""How unlikely a deviation is: tails of the normal, chi-square and Student distributions, in closed form."""

import math
from collections.abc import Callable
from statistics import NormalDist

_NORMAL = NormalDist()


def two_sided_chance(deviation_sd: float) -> float:
    """Chance that a normal value lies at least this many standard deviations off, either way."""
    return math.erfc(abs(deviation_sd) / math.sqrt(2.0))


def one_sided_limit_sd(chance: float) -> float:
    """Standard deviations that a normal value exceeds with this chance (between 0 and 1)."""
    return -_NORMAL.inv_cdf(chance)


def chi_square_chance(value: float, degrees: int) -> float:
    """Chance that a chi-square value with `degrees` (1 or more) degrees of freedom is at least `value`.

    A finite sum for whole degrees (Abramowitz & Stegun, Handbook of Mathematical Functions, 1964, 26.4.4 and
    26.4.5, numbers from memory; checked against SciPy in the tests).
    """
    half = value / 2.0
    if half <= 0.0:
        return 1.0
    if degrees % 2:
        total, term, power = math.erfc(math.sqrt(half)), math.sqrt(half / math.pi) * 2.0, 1.5
    else:
        total, term, power = 0.0, 1.0, 1.0
    for _ in range(degrees // 2):
        total += term * math.exp(-half)
        term *= half / power
        power += 1.0
    return total


def student_chance(value: float, degrees: int) -> float:
    """Chance that Student's t with `degrees` (1 or more) degrees of freedom lies at least `value` off, either way.

    Finite sums for whole degrees (Abramowitz & Stegun 1964, 26.7.3 and 26.7.4, numbers from memory; checked against
    SciPy in the tests).
    """
    angle = math.atan2(abs(value), math.sqrt(degrees))
    cosine = math.cos(angle)
    odd = degrees % 2 == 1
    term, total = (cosine, 0.0) if odd else (1.0, 0.0)
    for number in range(1 + odd, degrees, 2):
        total += term
        term *= cosine * cosine * number / (number + 1)
    if odd:
        return 1.0 - (angle + math.sin(angle) * total) * 2.0 / math.pi
    return 1.0 - math.sin(angle) * total


def student_limit(chance: float, degrees: int) -> float:
    """The value that Student's t exceeds, either way, with this chance (between 0 and 1)."""
    return _where(lambda value: student_chance(value, degrees), chance)


def chi_square_limit(chance: float, degrees: int) -> float:
    """The value that a chi-square exceeds with this chance (between 0 and 1)."""
    return _where(lambda value: chi_square_chance(value, degrees), chance)


def _where(falling: Callable[[float], float], wanted: float) -> float:
    """The positive value at which a function that falls from 1 to 0 takes a value, by halving."""
    low, high = 0.0, 1.0
    while falling(high) > wanted:
        high *= 2.0
    for _ in range(80):
        middle = (low + high) / 2.0
        low, high = (middle, high) if falling(middle) > wanted else (low, middle)
    return (low + high) / 2.0
