"""How sure a count is: intervals that hold the true share or rate in 95 of 100 cases."""

import math
from collections.abc import Callable

_Z_95 = 1.959963984540054  # of the standard normal distribution, two-sided 95 %


def wilson(count: int, total: int) -> tuple[float, float]:
    """95 % interval of a share, 0 to 1, from `count` of `total`; (0, 1) for none at all.

    E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212 (score interval, no correction for continuity; formula from
    memory, checked in the tests against scipy). Raises ValueError for counts that cannot be.
    """
    if not 0 <= count <= total:
        raise ValueError(f"{count} of {total} is no share")
    if total == 0:
        return 0.0, 1.0
    share, z2 = count / total, _Z_95**2
    middle = (share + z2 / (2 * total)) / (1 + z2 / total)
    half = _Z_95 / (1 + z2 / total) * math.sqrt(share * (1 - share) / total + z2 / (4 * total**2))
    low = 0.0 if count == 0 else max(0.0, middle - half)
    return low, 1.0 if count == total else min(1.0, middle + half)


def poisson(count: int, exposure: float) -> tuple[float, float]:
    """95 % interval of a rate (per unit of `exposure`) from `count` events; (0, inf) without exposure.

    Exact (F. Garwood, Biometrika 28 (1936) 437-442; from memory, checked in the tests against scipy).
    """
    if count < 0 or exposure < 0:
        raise ValueError(f"{count} events in {exposure:g} is no rate")
    if exposure == 0:
        return 0.0, math.inf
    low = 0.0 if count == 0 else _solved(lambda mean: 1 - _at_most(count - 1, mean), 0.025, count + 1.0)
    high = _solved(lambda mean: 1 - _at_most(count, mean), 0.975, 2.0 * count + 20.0)
    return low / exposure, high / exposure


def _at_most(count: int, mean: float) -> float:
    """Probability of at most `count` events where `mean` are expected; mean above 0."""
    return math.fsum(math.exp(k * math.log(mean) - mean - math.lgamma(k + 1)) for k in range(count + 1))


def _solved(rising: Callable[[float], float], value: float, high: float) -> float:
    """Where a rising function between 0 and `high` takes a value, by bisection."""
    low = 1e-12
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if rising(middle) < value else (low, middle)
    return (low + high) / 2
