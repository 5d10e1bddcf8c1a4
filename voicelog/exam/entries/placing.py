"""From lenses as they were named to lenses as they then stand before the eye."""

from voicelog.exam.entries.base import ask, refuse
from voicelog.exam.entries.context import InPlace
from voicelog.exam.entries.lenses import CylinderLens, TrialLenses, exact_d
from voicelog.exam.entries.limits import check_cylinder, check_power
from voicelog.phrases.meanings import Cylinder, Lens, Meaning


def placed(lens: Lens, before: InPlace, meaning: Meaning, *, steps: bool = True) -> InPlace:
    """The frame after a line that names lenses: each named lens takes the place of its kind, the other stays.

    `lens.on_top` adds to what is in place. Raises NeedsAnswer for what no trial case holds, for a cylinder whose axis
    is not known, and for a step on top of nothing.
    """
    if lens.on_top and before.lenses.empty:
        raise refuse("on top of what? No lens is before the eye: say the lenses in full", meaning)
    after = before
    if lens.sphere is not None:
        base_d = (before.lenses.sphere_d or 0.0) if lens.on_top else 0.0
        sphere_d = check_power(base_d + exact_d(lens.sphere), meaning, steps=steps)
        after = InPlace(after.lenses.with_sphere(sphere_d), None, after.cylinder_from)
    if lens.cylinder is not None:
        cylinder = _cylinder(lens.cylinder, before.lenses.cylinder, meaning, on_top=lens.on_top, steps=steps)
        after = InPlace(after.lenses.with_cylinder(cylinder), after.sphere_from, None)
    return after


def _cylinder(
    said: Cylinder, before: CylinderLens | None, meaning: Meaning, *, on_top: bool, steps: bool
) -> CylinderLens | None:
    """The cylinder then in place; none when its power is nought. An axis left unsaid is the one in place."""
    power_d = exact_d(said.power)
    axis_deg = said.axis_deg
    if on_top and before is not None:
        if axis_deg not in (None, before.axis_deg):
            raise refuse("two cylinders with different axes: say the cylinder in full", meaning)
        power_d, axis_deg = power_d + before.power_d, before.axis_deg
    if power_d == 0:
        return None
    check_cylinder(power_d, meaning, steps=steps)
    if axis_deg is None:
        axis_deg = None if before is None else before.axis_deg
    if axis_deg is None:
        raise ask("axis", "which axis has the cylinder?", meaning)
    if not 1 <= axis_deg <= 180:
        raise ask("axis", f"axis {axis_deg} is not within 1 to 180: which axis?", meaning)
    return CylinderLens(power_d=power_d, axis_deg=axis_deg)


def whole_lenses(lens: Lens, meaning: Meaning, *, steps: bool = True) -> TrialLenses:
    """Lenses that stand by themselves, as in a prescription. Raises NeedsAnswer."""
    return placed(lens, InPlace(), meaning, steps=steps).lenses
