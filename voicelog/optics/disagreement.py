"""Whether readings disagree more than their own errors allow.

Readings divided by their standard deviations are fitted by least squares. Of true readings the sum of the
squares left over is chi-square with as many degrees of freedom as there are readings to spare, and each
residual over the square root of one minus its leverage is a standard normal value (Draper & Smith, "Applied
Regression Analysis", from memory). A lone slip shows best in the largest of these, many small ones in the sum.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from voicelog.optics.fitting import dot
from voicelog.optics.significance import chi_square_chance, two_sided_chance

FALSE_ALARM: Final = 0.01
# Chance that true readings are called a conflict. With one or two to spare the sum has all of it; from three on
# the largest residual finds a lone slip of 1.5 D in 2 to 8 of 100 exams more, and the sum keeps a fifth.
_FOR_THE_SUM: Final = 0.2
_SUM_ALONE_UP_TO: Final = 2
_FREE: Final = 1e-9  # a leverage this near to 1 leaves nothing to judge

Row = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Judged:
    """n readings judged.

    standardised  residuals as standard normal values; 0 for a reading that nothing else checks
    expected_d    what the other readings give in the place of each, dioptres
    conflict      whether they disagree
    """

    standardised: tuple[float, ...]
    expected_d: tuple[float, ...]
    conflict: bool


def judge(design: Sequence[Row], powers_d: Sequence[float], sds_d: Sequence[float]) -> Judged:
    """Judge n powers (dioptres) with n standard deviations (dioptres, above 0) that `design`, n rows, explains.

    The columns of the design must be independent.
    """
    to_spare = len(powers_d) - len(design[0])
    if to_spare < 1:
        return Judged((0.0,) * len(powers_d), tuple(powers_d), False)
    basis: list[list[float]] = []
    for column in zip(*design, strict=True):
        scaled = _without(basis, [value / sd for value, sd in zip(column, sds_d, strict=True)])
        length = math.sqrt(dot(scaled, scaled))
        basis.append([value / length for value in scaled])
    left = _without(basis, [power / sd for power, sd in zip(powers_d, sds_d, strict=True)])
    free = [1.0 - dot(row, row) for row in zip(*basis, strict=True)]
    standardised = tuple(
        value / math.sqrt(rest) if rest > _FREE else 0.0 for value, rest in zip(left, free, strict=True)
    )
    expected = tuple(
        power - sd * value / rest if rest > _FREE else power
        for power, sd, value, rest in zip(powers_d, sds_d, left, free, strict=True)
    )
    return Judged(standardised, expected, _conflict(standardised, dot(left, left), to_spare, basis, free))


def _without(basis: Sequence[Sequence[float]], values: list[float]) -> list[float]:
    """What the basis does not explain (modified Gram-Schmidt)."""
    for q in basis:
        share = dot(q, values)
        values = [value - share * a for value, a in zip(values, q, strict=True)]
    return values


def _conflict(
    standardised: Sequence[float],
    squares: float,
    to_spare: int,
    basis: Sequence[Sequence[float]],
    free: Sequence[float],
) -> bool:
    by_sum = chi_square_chance(squares, to_spare)
    if to_spare <= _SUM_ALONE_UP_TO:
        return by_sum < FALSE_ALARM
    by_one = two_sided_chance(max(map(abs, standardised)))
    # Sidak, J Am Stat Assoc 1967;62:626-633 (from memory): normal values, however correlated, all stay within a
    # limit at least as often as independent ones would.
    by_largest = -math.expm1(_different(basis, free) * math.log1p(-by_one)) if by_one < 1.0 else 1.0
    return by_sum < _FOR_THE_SUM * FALSE_ALARM or by_largest < (1.0 - _FOR_THE_SUM) * FALSE_ALARM


def _different(basis: Sequence[Sequence[float]], free: Sequence[float]) -> int:
    """How many residuals are not the same as another but for its sign (two readings of one meridian may be)."""
    different: list[int] = []
    for index, rest in enumerate(free):
        if rest <= _FREE:
            continue
        if not any(
            abs(sum(q[index] * q[other] for q in basis)) >= math.sqrt(rest * free[other]) - _FREE
            for other in different
        ):
            different.append(index)
    return len(different)
