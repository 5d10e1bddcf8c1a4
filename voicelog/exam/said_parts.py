"""Parts of what was said in words, gaps and all: powers, angles, lenses, places, eyes."""

from voicelog.optics import written_axis, written_power
from voicelog.phrases import meanings as say

NTH = {1: "first", 2: "second"}
"""The meridians of a pass in the order they were read."""


def power(spoken: say.Power) -> str:
    """ "+1.25", "plano", or what is not clear about it."""
    if spoken.dioptres is not None:
        return written_power(spoken.dioptres)
    if spoken.size_d is None:
        return {1: "plus", -1: "minus", None: "an unclear power"}[spoken.sign]
    return f"{spoken.size_d:.2f} without a sign"


def angle(angle_deg: int) -> str:
    """Three digits; an angle that is no axis stays as it was said."""
    return written_axis(angle_deg) if 1 <= angle_deg <= 180 else str(angle_deg)


def lens(named: say.Lens) -> str:
    """ "sphere +1.25, cylinder -0.50 axis 090"."""
    if named.same:
        return "the same"
    parts = []
    if named.sphere is not None:
        parts.append(f"sphere {power(named.sphere)}")
    if named.cylinder is not None:
        axis = named.cylinder.axis_deg
        parts.append(
            f"cylinder {power(named.cylinder.power)} axis {angle(axis) if axis is not None else 'not said'}"
        )
    return ", ".join(parts) + (" on top" if named.on_top else "")


def where(place: say.Where) -> str:
    """ "streak vertical (090)", "meridian 105", "other meridian", or the bare direction when the habit names it."""
    if place.angle_deg is None:
        return f"{place.which} {place.names or 'meridian'}" + ("s" if place.which == "both" else "")
    direction = {90: "vertical", 180: "horizontal"}.get(place.angle_deg)
    text = f"{direction} ({angle(place.angle_deg)})" if direction else angle(place.angle_deg)
    return f"{place.names} {text}" if place.names else text


def eye(named: say.EyeNamed | None) -> str:
    """ "right eye ", "both eyes ", or nothing."""
    return "" if named is None else "both eyes " if named == "both" else f"{named} eye "
