"""Angles in TABO / ISO 8429 notation: as the examiner sees them, counter-clockwise, horizontal 180."""

import math

from voicelog.optics import checks


def normalise_axis_deg(angle_deg: float) -> float:
    """Fold any real angle (degrees) into (0, 180]: 0 and 360 become 180, -5 becomes 175.

    Raises NotFiniteError. Use it for computed angles only: a spoken axis of 181 to 360 is a
    slip to be refused, not folded.
    """
    folded = checks.finite("angle", angle_deg) % 180.0
    return folded if folded > 0.0 else 180.0


def perpendicular_deg(angle_deg: float) -> float:
    """The axis or meridian at right angles, degrees in (0, 180]. Raises NotFiniteError, AxisError."""
    return normalise_axis_deg(checks.axis("angle", angle_deg) + 90.0)


def streak_to_meridian_deg(streak_deg: float) -> float:
    """Meridian (degrees) whose power a streak examines: at right angles to the line of light.

    A vertical streak (90) is swept sideways and examines the 180 meridian. Raises
    NotFiniteError, AxisError. Source: retinoscopy teaching, e.g. mrcophth.com mock 10 station 8
    ("the power is 90 degrees to the axis").
    """
    return normalise_axis_deg(checks.axis("streak", streak_deg) + 90.0)


def meridian_to_streak_deg(meridian_deg: float) -> float:
    """Streak (degrees) that examines a power meridian; the inverse of `streak_to_meridian_deg`."""
    return normalise_axis_deg(checks.axis("meridian", meridian_deg) + 90.0)


def axis_difference_deg(first_deg: float, second_deg: float) -> float:
    """Signed smallest turn from the second axis to the first, degrees in (-90, 90]."""
    turn = (checks.finite("angle", first_deg) - checks.finite("angle", second_deg)) % 180.0
    return turn - 180.0 if turn > 90.0 else turn


def double_angle(angle_deg: float) -> tuple[float, float]:
    """Cosine and sine of twice an angle in degrees; exact at multiples of 45 degrees.

    Exactness there keeps the commonest meridians (45, 90, 135, 180) free of 1e-16 debris.
    """
    turns, rest = divmod(angle_deg, 45.0)
    if rest == 0.0:
        return ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(turns) % 4]
    doubled = math.radians(2.0 * angle_deg)
    return math.cos(doubled), math.sin(doubled)
