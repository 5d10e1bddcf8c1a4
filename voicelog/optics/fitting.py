"""Least squares of meridian powers on the power vector, F(t) = M + J0 cos 2t + J45 sin 2t.

Plain floats, not arrays: an exam has a handful of readings, and each solve must take microseconds.
"""

import math
import operator
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from voicelog.optics import checks
from voicelog.optics.angles import axis_difference_deg, double_angle, normalise_axis_deg
from voicelog.optics.errors import ShapeError
from voicelog.optics.refraction import PowerVector

Row = tuple[float, ...]

SAME_MERIDIAN_DEG: Final = 0.05  # nobody sets a streak finer; nearer meridians are repeats of one
_CANDIDATE_STEP_DEG: Final = 5
_REFINE_ABOVE: Final = 3.0
# Above this amplification what the first pass left over is fitted again: meridians one degree apart
# would otherwise cost half the digits.


@dataclass(frozen=True, slots=True)
class Fit:
    """A least squares fit of n net powers.

    vector         fitted power vector, dioptres
    axis_deg       None when (M, J0, J45) were fitted; with two meridians at right angles the first of
                   them, and the fit is of M and of the J along it
    inverse        pseudo-inverse of the design: for each of the 3 (or 2) parameters, n weights
    leverages      n values; 1 for a reading that nothing else checks
    residuals_d    power minus fit, n values, dioptres
    condition      largest over smallest singular value of the design
    amplification  largest factor from an error vector of the readings to one of the parameters
    """

    vector: PowerVector
    axis_deg: float | None
    inverse: tuple[Row, ...]
    leverages: Row
    residuals_d: Row
    condition: float
    amplification: float


def distinct_meridians(meridians_deg: Sequence[float]) -> list[float]:
    """The different meridians (degrees) in order of appearance; repeats within 0.05 degrees are one."""
    distinct: list[float] = []
    for meridian in meridians_deg:
        if all(abs(axis_difference_deg(meridian, known)) > SAME_MERIDIAN_DEG for known in distinct):
            distinct.append(meridian)
    return distinct


def fit_all_components(meridians_deg: Sequence[float], powers_d: Sequence[float]) -> Fit:
    """Fit (M, J0, J45) to powers in three or more distinct meridians.

    The columns 1, cos 2t and sin 2t are made orthogonal one after the other (modified Gram-Schmidt),
    which unlike the normal equations does not square the condition of narrowly spread meridians.
    """
    count = len(powers_d)
    doubled = [double_angle(meridian) for meridian in meridians_deg]
    mean_c = math.fsum(c for c, _ in doubled) / count
    mean_s = math.fsum(s for _, s in doubled) / count
    first = [c - mean_c for c, _ in doubled]
    along = _scaled(first)
    overlap = dot(along, [s for _, s in doubled])
    second = _scaled([s - mean_s - overlap * f for (_, s), f in zip(doubled, first, strict=True)])
    for_j0 = [a - overlap * b for a, b in zip(along, second, strict=True)]
    for_m = [1.0 / count - mean_c * a - mean_s * b for a, b in zip(for_j0, second, strict=True)]
    inverse = (tuple(for_m), tuple(for_j0), tuple(second))
    design = [(1.0, c, s) for c, s in doubled]
    amplification = math.sqrt(_largest_eigenvalue(inverse))
    parameters, residuals = _solved(inverse, design, powers_d, amplification)
    return Fit(
        vector=PowerVector(*parameters),
        axis_deg=None,
        inverse=inverse,
        leverages=tuple(map(dot, design, zip(*inverse, strict=True))),
        residuals_d=tuple(residuals),
        condition=amplification * math.sqrt(_largest_eigenvalue(tuple(zip(*design, strict=True)))),
        amplification=amplification,
    )


def _solved(
    inverse: Sequence[Row], design: Sequence[Row], powers_d: Sequence[float], amplification: float
) -> tuple[list[float], list[float]]:
    """Parameters and residuals, dioptres."""
    parameters = [dot(weights, powers_d) for weights in inverse]
    residuals = [power - dot(row, parameters) for row, power in zip(design, powers_d, strict=True)]
    if amplification > _REFINE_ABOVE:
        parameters = [p + dot(weights, residuals) for p, weights in zip(parameters, inverse, strict=True)]
        residuals = [power - dot(row, parameters) for row, power in zip(design, powers_d, strict=True)]
    return parameters, residuals


def fit_perpendicular(meridians_deg: Sequence[float], powers_d: Sequence[float], axis_deg: float) -> Fit:
    """Fit the principal powers along `axis_deg` and across it, every reading taken as one or the other.

    The off-axis component is taken as zero: that is what reading the principal meridians means. With the
    columns 1 and +1 or -1 the fit is the mean power of each meridian, and its squared singular values
    are twice the number of readings in each.
    """
    along = [abs(axis_difference_deg(meridian, axis_deg)) < 45.0 for meridian in meridians_deg]
    count = sum(along)
    others = len(along) - count
    first = sum(power for power, one in zip(powers_d, along, strict=True) if one) / count
    second = sum(power for power, one in zip(powers_d, along, strict=True) if not one) / others
    weights = tuple(0.5 / count if one else 0.5 / others for one in along)
    cosine, sine = double_angle(axis_deg)
    half = (first - second) / 2.0
    return Fit(
        vector=PowerVector((first + second) / 2.0, half * cosine, half * sine),
        axis_deg=axis_deg,
        inverse=(weights, tuple(w if one else -w for w, one in zip(weights, along, strict=True))),
        leverages=tuple(2.0 * weight for weight in weights),
        residuals_d=tuple(p - (first if one else second) for p, one in zip(powers_d, along, strict=True)),
        condition=math.sqrt(max(count, others) / min(count, others)),
        amplification=math.sqrt(0.5 / min(count, others)),
    )


def dot(one: Sequence[float], other: Sequence[float]) -> float:
    """Sum of the products of two sequences of one length."""
    return sum(map(operator.mul, one, other), 0.0)


def _scaled(column: list[float]) -> list[float]:
    """The column divided by its squared length: the weights that read off its coefficient."""
    squared = dot(column, column)
    return [value / squared for value in column]


def _largest_eigenvalue(rows: tuple[Row, ...]) -> float:
    """Largest eigenvalue of the Gram matrix of 3 rows, in closed form.

    Source: trigonometric solution for a symmetric 3 by 3 matrix, Smith, Commun ACM 1961;4:168.
    """
    a, b, d = dot(rows[0], rows[0]), dot(rows[1], rows[1]), dot(rows[0], rows[1])
    c, e, f = dot(rows[2], rows[2]), dot(rows[0], rows[2]), dot(rows[1], rows[2])
    mean = (a + b + c) / 3.0
    a, b, c = a - mean, b - mean, c - mean
    size = math.sqrt((a * a + b * b + c * c + 2.0 * (d * d + e * e + f * f)) / 6.0)
    determinant = a * (b * c - f * f) - d * (d * c - f * e) + e * (d * f - b * e)
    angle = math.acos(max(-1.0, min(1.0, determinant / (2.0 * size**3)))) / 3.0
    return mean + 2.0 * size * math.cos(angle)


def best_next_meridian_deg(meridians_deg: Sequence[float]) -> float:
    """The meridian (whole degrees) that, measured next, best fixes the refraction.

    After one meridian the one across it; otherwise the one, in steps of 5 degrees, that makes the
    smallest singular value of the fit largest. Raises ShapeError when nothing was measured, AxisError.
    """
    if not meridians_deg:
        raise ShapeError("no meridian given; at least one is needed")
    measured = [checks.axis("meridian", meridian) for meridian in meridians_deg]
    if len(distinct_meridians(measured)) == 1:
        return normalise_axis_deg(measured[0] + 90.0)
    candidates = range(_CANDIDATE_STEP_DEG, 181, _CANDIDATE_STEP_DEG)
    designs = np.array([[(1.0, *double_angle(m)) for m in (*measured, float(c))] for c in candidates])
    smallest = np.linalg.svd(designs, compute_uv=False)[:, -1]
    return float(candidates[int(np.argmax(np.round(smallest, 9)))])
