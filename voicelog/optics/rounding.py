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
    `axis_step_deg` (degrees, a divisor of 90, so that both forms can be written). The squared distance to
    a writable lens is (d1^2 + d2^2)/2 + b^2, with d1 and d2 the changes of the powers along and across the
    written axis and b fixed by that axis: so the nearest lens has the nearest axis, and along and across it
    the rounded powers.
    It follows that along the two written principal meridians the power moves by at most half a step, and
    along any other by at most half a step + |C|/2 sin 2t, t being the turn of the axis.
    Half-way powers go to the more plus, half-way axes to the larger.
    Raises FormError, StepError, PowerRangeError.
    """
    checks.form(form)
    _check_step("power step", power_step_d, 1.0)
    if axis_step_deg not in range(1, 46) or 90 % axis_step_deg:
        raise StepError(f"axis step is {axis_step_deg!r} degrees; a divisor of 90 up to 45 is needed")
    vector = refraction.vector if isinstance(refraction, SpheroCylinder) else refraction
    exact_axis = vector.minus_axis_deg
    if exact_axis is None:
        return SpheroCylinder(round_to_step(vector.m_d, power_step_d))
    axis = normalise_axis_deg(round_to_step(exact_axis, axis_step_deg))
    cosine, sine = double_angle(axis)
    half = vector.j0_d * cosine + vector.j45_d * sine
    along = round_to_step(vector.m_d + half, power_step_d)
    across = round_to_step(vector.m_d - half, power_step_d)
    if form == "plus":
        return SpheroCylinder(across, along - across, normalise_axis_deg(axis + 90.0))
    return SpheroCylinder(along, across - along, axis)


def _check_step(name: str, step: float, largest: float) -> None:
    if not 0.0 < checks.finite(name, step) <= largest:
        raise StepError(f"{name} is {step:g} D; above 0 and at most {largest:g} D is needed")
