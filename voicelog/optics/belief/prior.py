"""What is held of an eye before it is looked at; always with a name, so that a result can say what it rests on.

A prior is a mixture of normal distributions of (M, J0, J45), round in (J0, J45). All widths are our own choices, but
for what a comment names; "from memory" marks a value that was not looked up.
"""

import math
from dataclasses import dataclass, replace
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
    """What is held before the looks. `name` says in words what it rests on. Raises ErrorModelError."""

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


_WIDE = PriorPart(1.0, PowerVector(0.0, 0.0, 0.0), m_sd_d=5.0, j_sd_d=0.5, j_flat_d=3.0)
# Cylinders up to the strongest of a usual trial set, 6.00 D, are alike likely in any direction; stronger ones are rare.
WIDE_PRIOR: Final = Prior("nothing", (_WIDE,))

# Mean and standard deviation of M by age, dioptres: the course (hyperopic children, a narrow middle at school age, more
# myopia in young adults, a hyperopic shift after fifty) is common teaching; the numbers are from memory and wide.
_BY_AGE: Final = ((0.0, 2.0, 2.0), (6.0, 0.8, 1.5), (12.0, -0.3, 2.0), (25.0, -1.2, 2.5), (50.0, -0.2, 2.5))
_OLDEST_YEARS: Final = (75.0, 0.8, 2.5)


def spectacles_prior(worn: SpheroCylinder) -> Prior:
    """An eye that wears spectacles of this power: within about 0.75 D of them, or, in one of ten, anything."""
    return _around(worn, 0.75, f"spectacles worn {worn}")


def earlier_prior(found: SpheroCylinder) -> Prior:
    """An eye of which an earlier exam is known: within about 0.50 D of it, or, in one of ten, anything."""
    return _around(found, 0.5, f"earlier exam {found}")


def age_prior(age_years: float) -> Prior:
    """An eye of a person of this age, years; one in ten may be anything. Raises NotFiniteError, ErrorModelError."""
    age = checks.finite("age", age_years)
    if not 0.0 <= age <= 120.0:
        raise ErrorModelError(f"age is {age:g} years; 0 to 120 is allowed")
    years, means, sds = zip(*_BY_AGE, _OLDEST_YEARS, strict=True)
    middle = PowerVector(float(np.interp(age, years, means)), 0.0, 0.0)
    part = PriorPart(1.0 - _STRANGE_SHARE, middle, float(np.interp(age, years, sds)), 2 * _CYLINDER_HALF_SD_D)
    return Prior(f"age {age:g}", (part, _strange()))


def _around(known: SpheroCylinder, m_sd_d: float, name: str) -> Prior:
    near = PriorPart(1.0 - _STRANGE_SHARE, known.vector, m_sd_d, _CYLINDER_HALF_SD_D * m_sd_d)
    return Prior(name, (near, _strange()))


def _strange() -> PriorPart:
    return replace(_WIDE, share=_STRANGE_SHARE)
