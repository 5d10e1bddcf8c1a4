"""What retinoscopy from beside the line of sight measures: another refraction than the fovea's."""

from typing import Final

from voicelog.optics import PowerVector, SpheroCylinder
from voicelog.practice.errors import PracticeError

FURTHEST_DEG: Final = 25.0
MEAN_D_PER_DEG2: Final = -0.0024
CYLINDER_D_PER_DEG2: Final = -0.0022
"""Both grow with the square of the angle to what was measured at 20 degrees: spherical equivalent -0.98 instead of
-0.02, sphere -1.80 instead of -0.40, so a cylinder 0.88 D more (eight eyes; Am J Ophthalmol 2004;137:1101-4).
Below 5 degrees that is less than 0.06 D; a thesis of 1985 found up to 4 degrees small (Pacific University).
Its axis, vertical for an examiner who sits to the side, is from memory; the study found it hard to foretell."""


def off_axis_change(angle_deg: float) -> PowerVector:
    """How the refraction of an eye changes when it is looked at from `angle_deg` to the side.

    Raises PracticeError beyond 25 degrees.
    """
    if not abs(angle_deg) <= FURTHEST_DEG:
        raise PracticeError(
            f"an angle of {angle_deg:g} degrees; allowed is -{FURTHEST_DEG:g} to {FURTHEST_DEG:g}"
        )
    if not angle_deg:
        return PowerVector(0.0, 0.0, 0.0)
    square = angle_deg**2
    cylinder = SpheroCylinder(0.0, CYLINDER_D_PER_DEG2 * square, 90.0).vector
    mean = MEAN_D_PER_DEG2 * square
    return cylinder + PowerVector(mean - cylinder.m_d, 0.0, 0.0)
