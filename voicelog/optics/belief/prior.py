"""What is held of an eye before it is looked at; always with a name, so that a result can say what it rests on.

A prior is a mixture of normal distributions of (M, J0, J45), round in (J0, J45). All widths are our own choices, but
for what a comment names; "from memory" marks a value that was not looked up.
"""

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicelog.optics import checks
from voicelog.optics.errors import ErrorModelError
from voicelog.optics.refraction import PowerVector, SpheroCylinder

Array = NDArray[np.float64]

_STRANGE_SHARE: Final = 0.1
"""How often an eye is not what was known of it: another person's spectacles, a changed eye."""
_CYLINDER_HALF_SD_D: Final = 0.5


@dataclass(frozen=True, slots=True)
class PriorPart:
    """One distribution: its share, its middle, standard deviations of M and of J0 and J45, dioptres; normal in M.

    Of (J0, J45) it is alike within `j_flat_d` (dioptres) of the middle and falls off from there as a normal one does.
    """

    share: float
    middle: PowerVector
    m_sd_d: float
    j_sd_d: float
    j_flat_d: float = 0.0

    def log_density(self, points: Array, m_shift_d: float, m_sd_d: float, cell_d: float) -> Array:
        """As `Prior.log_density`, with this part's share."""
        blur = cell_d**2 / 12.0
        m_var, j_var = self.m_sd_d**2 + m_sd_d**2 + blur, self.j_sd_d**2 + blur
        square = (points[0] - self.middle.m_d - m_shift_d) ** 2 / m_var
        off = (points[1] - self.middle.j0_d) ** 2 + (points[2] - self.middle.j45_d) ** 2
        if self.j_flat_d:
            off = np.maximum(np.sqrt(off) - self.j_flat_d, 0.0) ** 2
        square += off / j_var
        # Of the whole plane: the disc, and the slope around it.
        flat = self.j_flat_d
        size = flat**2 / 2.0 + j_var + flat * math.sqrt(j_var * math.pi / 2.0)
        log_density: Array = math.log(self.share) - 0.5 * math.log(m_var) - math.log(size) - 0.5 * square
        return log_density


@dataclass(frozen=True, slots=True)
class Prior:
    """What is held before the looks. `name` says in words what it rests on; the first part is what it is named for.

    Raises ErrorModelError.
    """

    name: str
    parts: tuple[PriorPart, ...]

    def __post_init__(self) -> None:
        shares = math.fsum(part.share for part in self.parts)
        if abs(shares - 1.0) > 1e-9 or any(
            part.share <= 0.0 or part.m_sd_d <= 0.0 or part.j_sd_d <= 0.0 for part in self.parts
        ):
            raise ErrorModelError("a prior needs shares above 0 that make 1, and standard deviations above 0")

    def log_density(self, points: Array, m_shift_d: float, m_sd_d: float, cell_d: float = 0.0) -> Array:
        """Log density (n values, up to a constant) at points (M, J0, J45), shape (3, n).

        M is taken as shifted by `m_shift_d` with a further normal error `m_sd_d` (the working distance's allowance);
        cells of the width `cell_d` blur it.
        """
        parts = [part.log_density(points, m_shift_d, m_sd_d, cell_d) for part in self.parts]
        log_density: Array = parts[0] if len(parts) == 1 else np.logaddexp(*parts)
        return log_density

    def known_shares(self, points: Array, m_shift_d: float, m_sd_d: float) -> Array:
        """How much of the density (n shares from 0 to 1) at points, shape (3, n), is of what the prior is named for.

        The rest is of an eye that may be anything. The arguments are those of `log_density`.
        """
        if len(self.parts) == 1:
            return np.ones(points.shape[1])
        known = self.parts[0].log_density(points, m_shift_d, m_sd_d, 0.0)
        shares: Array = np.exp(known - self.log_density(points, m_shift_d, m_sd_d))
        return shares


_WIDE = PriorPart(1.0, PowerVector(0.0, 0.0, 0.0), m_sd_d=5.0, j_sd_d=0.5, j_flat_d=3.0)
# Cylinders up to the strongest of a usual trial set, 6.00 D, are alike likely in any direction; stronger ones are rare.
WIDE_PRIOR: Final = Prior("nothing", (_WIDE,))

# Mean and standard deviation of M by age, dioptres; straight lines between. Of all sources the abstracts were read.
#   0     +3.55 ± 2.39 with drops, +0.58 ± 2.32 without (81 newborns, Chen et al., IOVS 2011;52:2456-61): the
#         middle, and the spread that holds both
#   0.5   to 6: +1.49 ± 1.23 and +0.71 ± 1.35 with drops, 6 to 71 months, no change with age (Baltimore Pediatric
#         Eye Disease Study, PMC2680482); +1.20 ± 1.05 at 3 to 6 (Shanghai, Zhang et al., J Ophthalmol 2018:5205946)
#   12    +0.66 and +0.83 with drops at 12 to 13 (Northern Ireland, Sydney: French et al., IOVS 2012;53:4021-31);
#         +0.08 falling to -0.39 ± 1.20 at school (South India, Turk J Ophthalmol 2022;52:412-20); -1.16 ± 2.17 in a
#         clinic, ages 4 to 16, with drops (224 Chinese children): about the middle, with the clinic's spread
#   24    -1.21 ± 2.30 with drops (192 Norwegian students, Acta Ophthalmol Scand 1999;77:302-5). A clinic found -2.86
#         at 27 (Irving et al., J Optom 2019;12:55-63), students in Portugal 0.23 ± 1.46 at 21: within one spread
#   50    of ages 43 to 54 43.0 % are below -0.50 and 22.1 % above +0.50; 75 and more: 14.4 and 68.5 % (Beaver Dam,
#         Wang et al., IOVS 1994;35:4344-7). The means are those of normal distributions with these shares. Their
#         spreads, 1.1 and 1.7, miss the tail: 2.7 % of adults have -6 or less (Williams et al., PMC4385146). 2.5 is
#         our choice.
_BY_AGE: Final = (
    (0.0, 2.1, 2.8),
    (0.5, 1.1, 1.4),
    (6.0, 1.1, 1.4),
    (12.0, 0.1, 2.2),
    (24.0, -1.2, 2.3),
    (50.0, -0.3, 2.5),
    (75.0, 1.3, 2.5),
)

_WORN_M_SD_D: Final = 0.75
_EARLIER_M_SD_D: Final = 0.5
# What M changes in a year by age, from so many years on: the root mean square over eyes, dioptres, rounded up. All
# abstracts or tables read; journal pages from memory.
#   child  myopes of 7 to 9 years -0.57 to -0.80 a year (Saw et al., IOVS 2005;46:51-57: -1.71 to -2.40 D in 3 years);
#          slow ones -0.41 with sd 0.33, fast ones -0.82 with sd 0.30 (Matsumura et al., Transl Vis Sci Technol
#          2020;9(13):12); French children of 7 to 12 -0.43 in one to two years (Tricard et al., Br J Ophthalmol
#          2022;106:1104-1109)
#   18     -0.02 to -0.23 a year in studies of ages 18 to 25 (Bullimore et al., IOVS 2023;64(6):2, table 3)
#   35     -0.05 to +0.51 in 6 years, single eyes by about 0.5 D otherwise (cohort in Guangzhou, ages from 35 on: means
#          with 95 % intervals in the abstract; the spread over eyes is reckoned from those)
#   65     the same cohort; eyes with nuclear cataract -0.96 D in 10 years (Blue Mountains Eye Study, abstract)
_YEARLY_M_SD_D: Final = ((0.0, 0.6), (18.0, 0.25), (35.0, 0.1), (65.0, 0.2))
# J0 changed by -0.05 D with an sd of 0.31 in 5 years, two measurements' errors in it (Yamagata study, Cornea
# 2018;37:53-58, abstract read; ages from 35 on). Taken for all ages.
_YEARLY_J_SD_D: Final = 0.06


def spectacles_prior(worn: SpheroCylinder) -> Prior:
    """An eye that wears spectacles of this power: within about 0.75 D of them, or, in one of ten, anything."""
    return _around(worn, _WORN_M_SD_D, _CYLINDER_HALF_SD_D * _WORN_M_SD_D, f"spectacles worn {worn}")


def earlier_prior(
    found: SpheroCylinder, *, on: str = "", years: float = 0.0, age_years: float | None = None
) -> Prior:
    """An eye of which an earlier exam is known: near to what was found then or, in one of ten, anything.

    found      the result of that exam
    on         its day in words; named, where it is known
    years      how long ago it was: M may be off by 0.50 D and by what eyes of that age change in that time
    age_years  age now; None, not known: as that of a child, whose eyes change most

    Raises NotFiniteError, ErrorModelError.
    """
    since = checks.finite("time since the earlier exam", years)
    if since < 0.0:
        raise ErrorModelError(f"an earlier exam was {-since:g} years after this one")
    m_sd_d = math.hypot(_EARLIER_M_SD_D, drift_sd_d(since, age_years))
    j_sd_d = math.hypot(_CYLINDER_HALF_SD_D * _EARLIER_M_SD_D, _YEARLY_J_SD_D * since)
    return _around(found, m_sd_d, j_sd_d, f"the visit of {on}, {found}" if on else f"earlier exam {found}")


def drift_sd_d(years: float, age_years: float | None) -> float:
    """How far M may have moved in the last `years`, as a standard deviation, dioptres, by the age now (years).

    The yearly rates of the ages that were lived through add up: an eye keeps its direction. Nothing is said of which
    way it went, so the middle stays where it was. Raises NotFiniteError, ErrorModelError.
    """
    if age_years is None:
        return _YEARLY_M_SD_D[0][1] * years
    age = _checked_age(age_years)
    drift_d = 0.0
    for (begins, rate_d), (ends, _) in pairwise((*_YEARLY_M_SD_D, (math.inf, 0.0))):
        drift_d += rate_d * max(0.0, min(age, ends) - max(age - years, begins))
    return drift_d


def age_prior(age_years: float, said: str = "") -> Prior:
    """An eye of a person of this age, years, as studies found such eyes; one in ten may be anything.

    said  the age in words, for the name. Raises NotFiniteError, ErrorModelError.
    """
    age = _checked_age(age_years)
    years, means, sds = zip(*_BY_AGE, strict=True)
    middle = PowerVector(float(np.interp(age, years, means)), 0.0, 0.0)
    part = PriorPart(1.0 - _STRANGE_SHARE, middle, float(np.interp(age, years, sds)), 2 * _CYLINDER_HALF_SD_D)
    return Prior(f"eyes of the age of {said or f'{age:g} years'}", (part, _strange()))


def _checked_age(age_years: float) -> float:
    age = checks.finite("age", age_years)
    if not 0.0 <= age <= 120.0:
        raise ErrorModelError(f"age is {age:g} years; 0 to 120 is allowed")
    return age


def _around(known: SpheroCylinder, m_sd_d: float, j_sd_d: float, name: str) -> Prior:
    near = PriorPart(1.0 - _STRANGE_SHARE, known.vector, m_sd_d, j_sd_d)
    return Prior(name, (near, _strange()))


def _strange() -> PriorPart:
    return replace(_WIDE, share=_STRANGE_SHARE)
