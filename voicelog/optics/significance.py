"""How unlikely a deviation is: tails of the normal and the chi-square distribution, in closed form."""

import math
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
