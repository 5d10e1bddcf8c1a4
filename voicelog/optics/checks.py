"""Input checks shared by the models: each returns the value as a float or raises a named error."""

import math
from typing import Final, Literal

from voicelog.optics.errors import (
    AxisError,
    DistanceError,
    FormError,
    NotFiniteError,
    PowerRangeError,
)

Form = Literal["minus", "plus"]

MAX_POWER_D: Final = 40.0
MIN_DISTANCE_M: Final = 0.05
MAX_DISTANCE_M: Final = 6.0
POWER_SLACK_D: Final = 1e-9  # a transposed +40.00 must not be refused for its last binary digit


def finite(name: str, value: float) -> float:
    """Return `value` as a float; raise NotFiniteError if it is no number, NaN or infinite."""
    try:
        usable = math.isfinite(value)
    except (TypeError, OverflowError):
        usable = False
    if not usable:
        raise NotFiniteError(f"{name} is {value!r}; a finite number is needed")
    return float(value) + 0.0  # + 0.0 turns -0.0 into 0.0, which would print as "-0.00"


def power(name: str, value_d: float) -> float:
    """Return a power in dioptres; raise NotFiniteError or, beyond 40 D, PowerRangeError."""
    checked = finite(name, value_d)
    if abs(checked) > MAX_POWER_D + POWER_SLACK_D:
        raise PowerRangeError(f"{name} is {checked:+.2f} D; allowed is -40.00 to +40.00 D")
    return checked


def allowance(name: str, value_d: float) -> float:
    """Return an allowance in dioptres, 0 to 40: a negative one would add what must come off.

    Raises as `power`.
    """
    checked = power(name, value_d)
    if checked < 0.0:
        raise PowerRangeError(f"{name} is {checked:+.2f} D; allowed is 0.00 to +40.00 D")
    return checked


def axis(name: str, value_deg: float) -> float:
    """Return an axis or meridian in degrees, in (0, 180]; raise NotFiniteError or AxisError.

    Written axes run from 1 to 180; values between 0 and 1 occur only in unrounded results.
    """
    checked = finite(name, value_deg)
    if not 0.0 < checked <= 180.0:
        raise AxisError(f"{name} is {checked:g}; allowed is 1 to 180 (0 is written 180)")
    return checked


def distance(name: str, value_m: float) -> float:
    """Return a working distance in metres, 0.05 to 6; raise NotFiniteError or DistanceError."""
    checked = finite(name, value_m)
    if not MIN_DISTANCE_M <= checked <= MAX_DISTANCE_M:
        raise DistanceError(f"{name} is {checked:g} m; allowed is {MIN_DISTANCE_M} to {MAX_DISTANCE_M:g} m")
    return checked


def form(value: str) -> None:
    """Raise FormError unless `value` is "minus" or "plus"."""
    if value not in ("minus", "plus"):
        raise FormError(f'cylinder form is {value!r}; allowed is "minus" or "plus"')
