"""Powers and axes as they are written: sign, two decimals, eighths cut off, axis in three digits."""

import math
from typing import Final

from voicelog.optics import checks
from voicelog.optics.angles import normalise_axis_deg

EIGHTH_D: Final = 0.125
_SAME_D: Final = 1e-9


def written_power(power_d: float) -> str:
    """A power in dioptres as text: "+1.50", "-0.12", "plano".

    Eighths are cut off, not rounded (0.125 is written 0.12, 0.375 is 0.37), as in trial cases and
    prescriptions. Raises NotFiniteError.
    """
    value = checks.finite("power", power_d)
    if is_of_eighths(value):
        value = math.trunc(round(value / EIGHTH_D) * EIGHTH_D * 100.0) / 100.0
    text = f"{value:+.2f}"
    return "plano" if text in ("+0.00", "-0.00") else text


def is_of_eighths(power_d: float) -> bool:
    """Whether trial lenses have this power, dioptres: a whole number of eighths. Raises NotFiniteError."""
    value = checks.finite("power", power_d)
    return abs(value - round(value / EIGHTH_D) * EIGHTH_D) < _SAME_D


def written_axis(axis_deg: float) -> str:
    """An axis in degrees as three digits to the nearest degree: "005", "180". Raises as `checks.axis`."""
    nearest = math.floor(checks.axis("axis", axis_deg) + 0.5)
    return f"{normalise_axis_deg(nearest):03.0f}"


def from_written_power_d(power_d: float) -> float:
    """The power meant by a written one: 0.12, 0.37, 0.62, 0.87 (or 0.13 ...) are eighths, dioptres.

    Only a value that names an eighth to two decimals is changed. Raises NotFiniteError, PowerRangeError.
    """
    value = checks.power("power", power_d)
    eighth = round(value / EIGHTH_D) * EIGHTH_D
    return eighth if abs(value - eighth) < 0.005 + _SAME_D else value


def written_cm(distance_cm: float) -> str:
    """A distance as it is read, to a millimetre: "67 cm"; two thirds of a metre are "66.7 cm"."""
    return f"{round(distance_cm, 1):g} cm"


def written_degrees(angle_deg: float) -> str:
    """A meridian in words, to a tenth of a degree at most: "90", "92.5"."""
    return f"{round(angle_deg, 1):g}"
