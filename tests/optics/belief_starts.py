"""Eyes that were examined before, for the checks of a belief that begins from what was known: how they changed, what was found.

How eyes change is taken from printed means and standard deviations, not from the widths that the belief uses.
"""

from dataclasses import dataclass

import numpy as np

from tests.optics.belief_exams import random_eye
from tests.optics.simulated_exams import TrueEye
from voicelog.optics import PowerVector, SpheroCylinder, round_refraction
from voicelog.optics.belief import Prior, earlier_prior


@dataclass(frozen=True)
class Change:
    """Yearly change of M over eyes: mean and standard deviation, dioptres; age now and years since the visit."""

    mean_d: float
    sd_d: float
    age_years: float
    years: float


CHANGES = {
    # Matsumura et al., Transl Vis Sci Technol 2020;9(13):12 (abstract read): -0.41 ± 0.33 D a year in slow myopic children,
    # -0.82 ± 0.30 in fast ones. The children are 9 at the end.
    "children, 1 year": Change(-0.62, 0.37, 9.0, 1.0),
    "fast children, 2 years": Change(-0.82, 0.30, 9.0, 2.0),
    # Bullimore et al., IOVS 2023;64(6):2, table 3: -0.02 to -0.23 D a year at 18 to 25; the spread over eyes is not
    # printed there, half of them changed by 0.50 D or more in the 2 to 10 years of the studies.
    "students, 3 years": Change(-0.14, 0.2, 24.0, 3.0),
    # The cohort in Guangzhou (abstract read): +0.51 D in 6 years at 45 to 54; its interval of ±0.055 makes an sd of 0.6 D
    # in 450 eyes.
    "adults, 6 years": Change(0.51 / 6.0, 0.6 / 6.0, 56.0, 6.0),
}
# The Yamagata study, Cornea 2018;37:53-58 (abstract read): J0 by -0.045 with an sd of 0.308 D in 5 years.
_J_MEAN_D, _J_SD_D = -0.045 / 5.0, 0.308 / 5.0
BY_AGE = {
    # Mean and standard deviation of M: white children of 6 to 71 months, Baltimore Pediatric Eye Disease Study (PMC2680482,
    # abstract read).
    4.0: (1.49, 1.23),
    # Norwegian students, Acta Ophthalmol Scand 1999;77:302-5 (abstract read).
    24.0: (-1.21, 2.30),
}
_FOUND_SD_D = (0.25, 0.15, 0.15)
"""Errors of the earlier result in (M, J0, J45): two neutral readings of 0.26 D and another day."""


def found_before(eye: TrueEye, change: Change, seed: int) -> SpheroCylinder:
    """What was found of an eye that is so now, years ago: changed back, with the errors of that exam, in quarters."""
    rng = np.random.default_rng([seed, 19])
    m = float(rng.normal(change.mean_d, change.sd_d)) * change.years
    j0, j45 = rng.normal([_J_MEAN_D, 0.0], _J_SD_D) * change.years
    then = eye.vector - PowerVector(m, float(j0), float(j45))
    return round_refraction(then + PowerVector(*rng.normal(0.0, _FOUND_SD_D).tolist()), 0.25, 1)


def prior_from(eye: TrueEye, change: Change, seed: int, *, age_known: bool = True) -> Prior:
    """The belief's start from that visit."""
    age = change.age_years if age_known else None
    return earlier_prior(found_before(eye, change, seed), years=change.years, age_years=age)


def anothers(eye: TrueEye, off_d: float) -> Prior:
    """The result of another patient, `off_d` more plus in M, a year ago, of an adult."""
    wrong = round_refraction(eye.vector + PowerVector(off_d, 0.0, 0.0), 0.25, 1)
    return earlier_prior(wrong, years=1.0, age_years=40.0)


def eye_of_age(eye: TrueEye, age_years: float, seed: int) -> TrueEye:
    """The same cylinder with the M of an eye of that age."""
    m = float(np.random.default_rng([seed, 20]).normal(*BY_AGE[age_years]))
    return TrueEye(m - eye.cylinder_d / 2.0, eye.cylinder_d, eye.axis_deg)


def eye_of(seed: int) -> tuple[TrueEye, np.random.Generator]:
    """The eye of a seed and the numbers for its exam."""
    rng = np.random.default_rng([seed, 93])
    return random_eye(rng), rng
