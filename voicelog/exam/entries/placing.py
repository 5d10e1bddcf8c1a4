"""From lenses as they were named to lenses as they then stand before the eye."""

from typing import Final

from voicelog.exam.entries.base import ask, refuse
from voicelog.exam.entries.context import Context, InPlace
from voicelog.exam.entries.lenses import CylinderLens, TrialLenses, exact_d
from voicelog.exam.entries.limits import check_cylinder, check_power
from voicelog.optics import written_power
from voicelog.phrases.meanings import Cylinder, Lens, Meaning

WHICH_LENS: Final = "which_lens"
"""The doubt whether a power without a word is the sphere's or the cylinder's."""


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


def ask_which_lens(lens: Lens, before: InPlace, context: Context) -> None:
    """Ask where a power without a word may be the cylinder's: a step behind a cylinder, a sphere with its sign alone.

    Raises NeedsAnswer.
    """
    cylinder, sphere_d = before.lenses.cylinder, before.lenses.sphere_d
    if cylinder is None or lens.sphere is None or lens.cylinder is not None:
        return
    power_d = exact_d(lens.sphere)
    if lens.on_top and not before.sphere_is_newer:
        new_d = (sphere_d or 0.0) + power_d
        text = f"sphere {written_power(new_d)}, and the cylinder stays {written_power(cylinder.power_d)}"
    elif not lens.on_top and sphere_d is not None and power_d * cylinder.power_d > 0 > power_d * sphere_d:
        text = f"sphere {written_power(power_d)}, instead of {written_power(sphere_d)}"
    else:
        return
    context.confirm(WHICH_LENS, f"{text}: is it right? If the cylinder is meant, say cylinder and its power")


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
