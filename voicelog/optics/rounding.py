"""Rounding for writing down: the nearest written lens, measured as a power vector."""

import math
from typing import Final

from voicelog.optics import checks
from voicelog.optics.angles import double_angle, normalise_axis_deg
from voicelog.optics.checks import Form
from voicelog.optics.errors import StepError
from voicelog.optics.refraction import PowerVector, SpheroCylinder

QUARTER_D: Final = 0.25
_TIE: Final = 1e-9  # of a step: a half-way case must not be decided by the last binary digit


def round_to_step(value: float, step: float) -> float:
    """Nearest multiple of `step`; half-way goes up, that is to the more plus power or larger angle."""
    return math.floor(value / step + 0.5 + _TIE) * step


def round_power_d(power_d: float, step_d: float = QUARTER_D) -> float:
    """A power rounded to `step_d` dioptres; half-way to the more plus.

    Taking the more plus is common practice, no source. Raises NotFiniteError, PowerRangeError, StepError.
    """
    _check_step("power step", step_d, 1.0)
    return round_to_step(checks.power("power", power_d), step_d)


def round_refraction(
    refraction: SpheroCylinder | PowerVector,
    power_step_d: float = QUARTER_D,
    axis_step_deg: int = 1,
    form: Form = "minus",
) -> SpheroCylinder:
    """The writable lens nearest to `refraction` in (M, J0, J45), in either cylinder form.

    Writable: sphere and cylinder are multiples of `power_step_d` (dioptres), the axis one of
    `axis_step_deg` (degrees, a divisor of 180). For one written axis the nearest lens is found by
    rounding the power along it and across it, because the squared distance is
    (d1^2 + d2^2)/2 + b^2 with d1, d2 the changes of those two powers and b fixed by the axis.
    It follows that along the two written principal meridians the power moves by at most half a step,
    and along any other by at most half a step + |C|/2 sin 2t, t being the turn of the axis (to the axis
    step tried when the cylinder is rounded away).
    Half-way powers go to the more plus, half-way axes to the larger.
    Raises FormError, StepError, PowerRangeError.
    """
    checks.form(form)
    _check_step("power step", power_step_d, 1.0)
    if axis_step_deg not in range(1, 46) or 180 % axis_step_deg:
        raise StepError(f"axis step is {axis_step_deg!r} degrees; a divisor of 180 up to 45 is needed")
    vector = refraction.vector if isinstance(refraction, SpheroCylinder) else refraction
    exact_axis = vector.minus_axis_deg
    if exact_axis is None:
        return SpheroCylinder(round_to_step(vector.m_d, power_step_d))
    larger = round_to_step(exact_axis, axis_step_deg)
    other = larger - math.copysign(axis_step_deg, larger - exact_axis)
    first, first_off = _nearest_at_axis(vector, normalise_axis_deg(larger), power_step_d)
    second, second_off = _nearest_at_axis(vector, normalise_axis_deg(other), power_step_d)
    sphere, across, axis = second if second_off < first_off - _TIE else first
    if (across > sphere) == (form == "minus"):  # written the other way round: transpose
        sphere, across, axis = across, sphere, normalise_axis_deg(axis + 90.0)
    return SpheroCylinder(sphere, across - sphere, axis)


def _nearest_at_axis(
    vector: PowerVector, axis_deg: float, step_d: float
) -> tuple[tuple[float, float, float], float]:
    """Nearest writable powers along and across an axis, with the axis, and the squared distance."""
    c, s = double_angle(axis_deg)
    half = vector.j0_d * c + vector.j45_d * s
    unresolved = vector.j45_d * c - vector.j0_d * s
    along, across = vector.m_d + half, vector.m_d - half
    near_along, near_across = round_to_step(along, step_d), round_to_step(across, step_d)
    off = ((near_along - along) ** 2 + (near_across - across) ** 2) / 2.0 + unresolved**2
    return (near_along, near_across, axis_deg), off


def _check_step(name: str, step: float, largest: float) -> None:
    if not 0.0 < checks.finite(name, step) <= largest:
        raise StepError(f"{name} is {step:g} D; above 0 and at most {largest:g} D is needed")
