"""What a trial frame may hold before one eye: lenses of the set, no more than it has cells, that act as their sum."""

from functools import lru_cache
from typing import Final

from voicelog.optics.errors import LensSetError, SeparationError
from voicelog.optics.lens_set import LensSet, lenses_for_power
from voicelog.optics.refraction import SpheroCylinder
from voicelog.optics.vertex import STACKING_NOTICE_D, stack_lenses

MOST_STACKED: Final = 4
"""Lenses before one eye, a lens for the working distance counted apart: common practice, no source."""
CELL_GAP_M: Final = 0.0035
"""From one front cell to the next: a public description of one trial frame. Frames differ."""


@lru_cache(maxsize=4096)
def stacked(sphere_d: float, cylinder_d: float, lens_set: LensSet) -> tuple[int, int]:
    """How many spheres and how many cylinders of the set, at one axis, make these powers (dioptres) safely.

    Safely: no more than a frame takes, and within 0.12 D of their sum in any meridian. The stronger a lens the nearer
    to the eye it stands (common practice, no source), so a weak one may stand before a strong one. Raises LensSetError,
    NotFiniteError, PowerRangeError.
    """
    spheres = lenses_for_power(sphere_d, lens_set)
    cylinders = lenses_for_power(cylinder_d, lens_set, cylinder=True)
    what = f"sphere {sphere_d:+.2f} D and cylinder {cylinder_d:+.2f} D"
    if len(spheres) + len(cylinders) > MOST_STACKED:
        raise LensSetError(f"{what} take more than {MOST_STACKED} lenses")
    lenses = [*map(SpheroCylinder, spheres), *(SpheroCylinder(0.0, power, 180.0) for power in cylinders)]
    lenses.sort(key=lambda lens: abs(lens.sphere_d + lens.cylinder_d))
    try:
        stack = stack_lenses(lenses, [CELL_GAP_M] * (len(lenses) - 1) if lenses else None)
    except SeparationError as error:
        raise LensSetError(f"{what} cannot be stacked: {error}") from error
    if stack.difference_d > STACKING_NOTICE_D:
        raise LensSetError(f"{what} act as another power: {stack.difference_d:.2f} D off")
    return len(spheres), len(cylinders)
