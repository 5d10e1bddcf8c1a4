"""How wide a pupil is at an age, in the dim room and the retinoscope's light."""

import math
from typing import Final

from voicelog.practice.errors import PracticeError

REFERENCE_AGE: Final = 28.58
FLUX: Final = 3700.0
"""Luminance times area of the field, cd/m2 times square degrees; our own choice: 5 mm at 28.6 years."""
YOUNGEST, OLDEST = 3.0, 90.0


def pupil_mm_at(age_years: float) -> float:
    """Diameter of the light-adapted pupil, millimetres.

    Watson and Yellott, A unified formula for light-adapted pupil size, J Vis 2012;12(10):12, with the pupil of Stanley
    and Davies (1995) for the flux. Fitted from 20 to 83 years; at 3 to 20 it is drawn on. Raises PracticeError.
    """
    if not YOUNGEST <= age_years <= OLDEST:
        raise PracticeError(f"an age of {age_years:g} years; allowed is {YOUNGEST:g} to {OLDEST:g}")
    light = math.pow(FLUX / 846.0, 0.41)
    reference_mm = 7.75 - 5.75 * light / (light + 2.0)
    return reference_mm + (age_years - REFERENCE_AGE) * (0.02132 - 0.009562 * reference_mm)
