"""Many solves at once, on arrays: an estimator by itself, to hold the solver against."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from voicelog.optics import checks
from voicelog.optics.errors import AxisError, NotFiniteError, PowerRangeError, ShapeError
from voicelog.optics.refraction import NO_CYLINDER_D

Array = NDArray[np.float64]

_RANK_TOLERANCE: Final = 1e-6  # of a column's length; below it the meridians are two, or one
_RIGHT_ANGLE: Final = 1e-6  # of the cosine of twice the angle


@dataclass(frozen=True, slots=True, eq=False)
class ManySolutions:
    """Solved refractions, minus cylinder form; every array has shape (cases,).

    Powers in dioptres, axis in degrees in (0, 180]. NaN where undetermined; the axis is NaN too where
    there is no cylinder. residual_d is the root mean square of the residuals.
    """

    m_d: Array
    j0_d: Array
    j45_d: Array
    sphere_d: Array
    cylinder_d: Array
    axis_deg: Array
    residual_d: Array
    determined: NDArray[np.bool_]


def solve_many(meridians_deg: ArrayLike, powers_d: ArrayLike, allowance_d: ArrayLike = 0.0) -> ManySolutions:
    """Solve many sets of readings as `solve_readings` does, without rounding and without snapping.

    meridians_deg  shape (readings,) for all cases alike, or (cases, readings); degrees, 1 to 180
    powers_d       shape (cases, readings); gross powers, dioptres
    allowance_d    a number or shape (cases,); taken off once, dioptres
    A case is determined by three or more distinct meridians, or by two at right angles.
    Raises ShapeError, NotFiniteError, PowerRangeError, AxisError.
    """
    powers = np.asarray(powers_d, dtype=np.float64)
    if powers.ndim != 2 or powers.shape[1] == 0:
        raise ShapeError(f"powers have shape {powers.shape}; (cases, readings) is needed")
    meridians = _matching("meridians", meridians_deg, powers.shape)
    allowance = np.asarray(allowance_d, dtype=np.float64)
    if allowance.shape not in ((), powers.shape[:1]):
        raise ShapeError(f"allowances have shape {allowance.shape}; a number or {powers.shape[:1]} is needed")
    _check_powers("powers", powers)
    _check_powers("allowances", allowance)
    if (allowance < 0.0).any():
        raise PowerRangeError(f"an allowance is {allowance.min():+.2f} D; allowed is 0.00 to +40.00 D")
    _check_meridians(meridians)
    net = powers - allowance.reshape(-1, 1)
    doubled = np.radians(2.0 * meridians)
    cosines, sines = np.cos(doubled), np.sin(doubled)
    vectors, determined = _least_squares(cosines, sines, net)
    flat = ~determined
    if flat.any():
        vectors[flat], determined[flat] = _two_meridians(cosines[flat], sines[flat], net[flat])
    fitted = vectors[:, :1] + vectors[:, 1:2] * cosines + vectors[:, 2:] * sines
    return _written(vectors, np.sqrt(np.mean((net - fitted) ** 2, axis=1)), determined)


def _matching(name: str, given: ArrayLike, shape: tuple[int, ...]) -> Array:
    values = np.asarray(given, dtype=np.float64)
    if values.shape not in (shape, shape[1:]):
        raise ShapeError(f"{name} have shape {values.shape}; {shape} or {shape[1:]} is needed")
    return np.broadcast_to(values, shape)


def _check_powers(name: str, values: Array) -> None:
    if not np.isfinite(values).all():
        raise NotFiniteError(f"{name} hold a value that is not finite; numbers are needed")
    largest = np.abs(values).max(initial=0.0)
    if largest > checks.MAX_POWER_D + checks.POWER_SLACK_D:
        raise PowerRangeError(f"{name} reach {largest:.2f} D; allowed is -40.00 to +40.00 D")


def _check_meridians(values: Array) -> None:
    if not np.isfinite(values).all():
        raise NotFiniteError("meridians hold a value that is not finite; numbers are needed")
    outside = (values <= 0.0) | (values > 180.0)
    if outside.any():
        raise AxisError(f"a meridian is {values[outside][0]:g}; allowed is 1 to 180 (0 is written 180)")


def _least_squares(cosines: Array, sines: Array, net: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Power vectors, shape (cases, 3), and which are determined; by modified Gram-Schmidt.

    Three columns only, so the orthogonalisation is written out over whole arrays; unlike the normal
    equations it does not square the condition of narrowly spread meridians.
    """
    count = net.shape[1]
    mean_c, mean_s = cosines.mean(axis=1, keepdims=True), sines.mean(axis=1, keepdims=True)
    first, second = cosines - mean_c, sines - mean_s
    first_norm = np.einsum("ij,ij->i", first, first)
    with np.errstate(divide="ignore", invalid="ignore"):
        overlap = np.einsum("ij,ij->i", first, second) / first_norm
        second = second - overlap[:, None] * first
        second_norm = np.einsum("ij,ij->i", second, second)
        residual = net - net.mean(axis=1, keepdims=True)
        along = np.einsum("ij,ij->i", first, residual) / first_norm
        residual = residual - along[:, None] * first
        j45 = np.einsum("ij,ij->i", second, residual) / second_norm
        j0 = along - overlap * j45
        m = net.mean(axis=1) - j0 * mean_c[:, 0] - j45 * mean_s[:, 0]
    limit = count * _RANK_TOLERANCE**2
    determined = (first_norm > limit) & (second_norm > limit)
    return np.stack([m, j0, j45], axis=1), determined


def _two_meridians(cosines: Array, sines: Array, net: Array) -> tuple[Array, NDArray[np.bool_]]:
    """Cases whose readings lie in two meridians at right angles: the mean power of each."""
    against_first = cosines * cosines[:, :1] + sines * sines[:, :1]  # cosine of twice the angle to the first
    along, across = against_first > 1.0 - _RIGHT_ANGLE, against_first < -1.0 + _RIGHT_ANGLE
    determined = np.logical_and.reduce(along | across, axis=1) & np.logical_or.reduce(across, axis=1)
    first = (net * along).sum(axis=1) / along.sum(axis=1)
    second = (net * across).sum(axis=1) / np.maximum(across.sum(axis=1), 1)
    half = (first - second) / 2.0
    return np.stack([(first + second) / 2.0, half * cosines[:, 0], half * sines[:, 0]], axis=1), determined


def _written(vectors: Array, residual_d: Array, determined: NDArray[np.bool_]) -> ManySolutions:
    m, j0, j45 = (np.where(determined, column, np.nan) for column in vectors.T)
    half = np.hypot(j0, j45)
    half = np.where(2.0 * half < NO_CYLINDER_D, 0.0, half)
    # Rounded so that the binary debris of 180 does not come out as an axis of 0.000000000000001.
    axis = np.round(np.degrees(0.5 * np.arctan2(j45, j0)), 9) % 180.0
    axis = np.where(axis > 0.0, axis, 180.0)
    return ManySolutions(
        m_d=m,
        j0_d=j0,
        j45_d=j45,
        sphere_d=m + half,
        cylinder_d=0.0 - 2.0 * half,
        axis_deg=np.where(half > 0.0, axis, np.nan),
        residual_d=np.where(determined, residual_d, np.nan),
        determined=determined,
    )
