"""Moving a lens along the line of sight: vertex distance, and trial lenses stacked apart."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicelog.optics import checks
from voicelog.optics.checks import Form
from voicelog.optics.errors import SeparationError
from voicelog.optics.problems import Problem
from voicelog.optics.refraction import PowerVector, SpheroCylinder, combined_vector
from voicelog.optics.written import written_power

MAX_SHIFT_M: Final = 0.2
STACKING_NOTICE_D: Final = 0.12
_NEAR_FOCUS: Final = 0.05  # |1 - dF| below this puts the focus at the plane: no thin-lens answer


def effective_power_d(power_d: float, toward_eye_m: float) -> float:
    """Power that a lens moved toward the eye by `toward_eye_m` (metres) must have to do the same, dioptres.

    F / (1 - d F); d is negative when moved away. Source: e.g. BCSC Clinical Optics, vertex distance.
    Raises NotFiniteError, PowerRangeError, SeparationError (beyond 0.2 m, or the focus at the new plane).
    """
    power = checks.power("power", power_d)
    shift = _shift(toward_eye_m)
    denominator = 1.0 - shift * power
    if denominator < _NEAR_FOCUS:
        raise SeparationError(f"{power:+.2f} D moved by {shift:g} m reaches its focus; move it less")
    return checks.power("power at the new plane", power / denominator)


def move_refraction(refraction: SpheroCylinder, toward_eye_m: float) -> SpheroCylinder:
    """The refraction at a plane nearer to the eye: each principal meridian by itself, the axis kept.

    To the cornea give the vertex distance, from the cornea its negative. The cylinder changes too.
    Raises as `effective_power_d`.
    """
    along = effective_power_d(refraction.sphere_d, toward_eye_m)
    across = effective_power_d(refraction.sphere_d + refraction.cylinder_d, toward_eye_m)
    return SpheroCylinder(along, across - along, refraction.axis_deg)


@dataclass(frozen=True, slots=True)
class Stack:
    """Trial lenses before the eye, seen as one lens in the plane of the rearmost.

    effective    with the separations (back vertex power of thin lenses)
    thin_sum     taken as touching, which is what the readings use by default
    difference_d largest difference of power in any meridian, dioptres
    problem      "stacking", when that difference is above 0.12 D
    """

    effective: SpheroCylinder
    thin_sum: SpheroCylinder
    difference_d: float
    problem: Problem | None


def stack_lenses(
    lenses: Sequence[SpheroCylinder], separations_m: Sequence[float] | None = None, form: Form = "minus"
) -> Stack:
    """Effectivity of lenses stacked apart, front lens first, at any axes.

    `separations_m`: distance from each lens to the next (metres, 0 to 0.2), one fewer than the lenses;
    None takes them as touching. Vergence as a power matrix: L' = (I - d L)^-1 L from lens to lens
    (Keating 1981, Am J Optom Physiol Opt 58:810-819, from memory).
    Raises SeparationError, PowerRangeError, NotFiniteError, FormError.
    """
    needed = max(0, len(lenses) - 1)
    gaps = [0.0] * needed if separations_m is None else list(separations_m)
    if len(gaps) != needed:
        raise SeparationError(f"{len(lenses)} lenses need {needed} separations; {len(gaps)} given")
    vergence = np.zeros((2, 2))
    for lens, gap in zip(lenses, [0.0, *gaps], strict=False):
        shift = _shift(gap)
        if shift < 0.0:
            raise SeparationError(f"separation is {shift:g} m; 0 or more is needed")
        vergence = _advance(vergence, shift) + lens.vector.matrix
    effective = PowerVector.from_matrix(vergence)
    thin = combined_vector(lenses)
    apart = (effective - thin).largest_power_d
    whole, touching = effective.to_sphero_cylinder(form), thin.to_sphero_cylinder(form)
    problem = None
    if apart > STACKING_NOTICE_D:
        text = f"the stacked lenses act as {whole}, not {touching}: up to {written_power(apart)} D apart"
        problem = Problem("stacking", text)
    return Stack(whole, touching, apart, problem)


def _advance(vergence: NDArray[np.float64], gap_m: float) -> NDArray[np.float64]:
    """Vergence matrix (2, 2) after a gap."""
    factor = np.eye(2) - gap_m * vergence
    if np.linalg.eigvalsh(factor)[0] < _NEAR_FOCUS:
        raise SeparationError(f"a gap of {gap_m:g} m reaches the focus of the lens before it")
    moved = np.asarray(np.linalg.solve(factor, vergence), dtype=np.float64)
    return (moved + moved.T) / 2.0


def _shift(distance_m: float) -> float:
    shift = checks.finite("distance between planes", distance_m)
    if abs(shift) > MAX_SHIFT_M:
        raise SeparationError(f"distance between planes is {shift:g} m; allowed is up to {MAX_SHIFT_M:g} m")
    return shift
