"""Powers, lenses and angles in words: what all wordings of entries share."""

from voicelog.optics import written_axis, written_power
from voicelog.phrases import meanings as say


def power(spoken: say.Power) -> str:
    """ "+1.25", "plano", or what is not clear about it."""
    if spoken.dioptres is not None:
        return written_power(spoken.dioptres)
    if spoken.size_d is None:
        return "an unclear power"
    return f"{spoken.size_d:.2f} without a sign"


def lens(named: say.Lens) -> str:
    """ "sphere +1.25, cylinder -0.50 axis 090"."""
    parts = []
    if named.sphere is not None:
        parts.append(f"sphere {power(named.sphere)}")
    if named.cylinder is not None:
        parts.append(_cylinder(named.cylinder))
    return ", ".join(parts) + (" on top" if named.on_top else "")


def _cylinder(cylinder: say.Cylinder) -> str:
    axis = cylinder.axis_deg
    return f"cylinder {power(cylinder.power)} axis {angle(axis) if axis else 'not said'}"


def angle(angle_deg: int) -> str:
    """Three digits; an angle that is no axis stays as it was said."""
    return written_axis(angle_deg) if 1 <= angle_deg <= 180 else str(angle_deg)
