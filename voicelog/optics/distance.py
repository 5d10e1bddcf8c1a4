"""The working distance, its allowance, and the allowance forgotten or taken twice."""

from dataclasses import dataclass
from typing import Final

from voicelog.optics import checks
from voicelog.optics.errors import DistanceError
from voicelog.optics.lens_set import COMMON_LENS_SET
from voicelog.optics.problems import Problem
from voicelog.optics.refraction import SpheroCylinder

DEFAULT_DISTANCE_SD_M: Final = 0.02  # common practice, no source: an arm held, not measured
NEAREST_USUAL_M: Final = 0.2
FARTHEST_USUAL_M: Final = 1.0
SLIP_TOLERANCE_D: Final = 0.375  # one and a half quarter steps; our choice, no source


@dataclass(frozen=True, slots=True)
class WorkingDistance:
    """Distance from retinoscope to the lens plane, metres, 0.05 to 6, with its standard deviation.

    The exact and the nominal allowance are both at hand because they differ (67 cm is 1.49 D and is
    called 1.50): keep the one that was used. Raises NotFiniteError, DistanceError.
    """

    distance_m: float
    sd_m: float = DEFAULT_DISTANCE_SD_M

    def __post_init__(self) -> None:
        object.__setattr__(self, "distance_m", checks.distance("working distance", self.distance_m))
        if checks.finite("distance uncertainty", self.sd_m) < 0.0 or self.sd_m >= self.distance_m:
            limit = f"0 to less than the distance, {self.distance_m:g} m"
            raise DistanceError(f"distance uncertainty is {self.sd_m:g} m; allowed is {limit}")

    @property
    def allowance_d(self) -> float:
        """Exact allowance 1/d, dioptres, to be taken off the sphere once."""
        return 1.0 / self.distance_m

    @property
    def allowance_sd_d(self) -> float:
        """Standard deviation of the allowance, dioptres: sd/d^2 (first order)."""
        return self.sd_m / self.distance_m**2

    @property
    def nominal_allowance_d(self) -> float:
        """The single trial lens of a usual set nearest to the exact allowance, dioptres."""
        return COMMON_LENS_SET.nearest_single_d(self.allowance_d)

    def check(self) -> Problem | None:
        """A problem ("unusual_distance") when no arm reaches that far or works that near, else None.

        It names the slip that a power was said as a distance: 1.50 D is 0.667 m, not 1.50 m.
        """
        if NEAREST_USUAL_M <= self.distance_m <= FARTHEST_USUAL_M:
            return None
        text = f"working distance {self.distance_m:g} m is unusual (allowance {self.allowance_d:.2f} D)"
        if self.distance_m > FARTHEST_USUAL_M:
            text += f"; if {self.distance_m:g} D was meant, the distance is {1.0 / self.distance_m:.3f} m"
        return Problem("unusual_distance", text)


def allowance_slip(
    solved: SpheroCylinder,
    reference: SpheroCylinder,
    allowance_d: float,
    tolerance_d: float = SLIP_TOLERANCE_D,
) -> Problem | None:
    """Whether a result is off by the allowance against a reference (refraction, prior exam, refined result).

    "allowance_forgotten": too plus by the allowance. "allowance_taken_twice": too minus by it (also what a
    working lens in place does when the allowance is taken off as well). Both need the rest of the difference
    to be within `tolerance_d` in every meridian. None when neither fits, or when the allowance is not
    more than twice the tolerance and so cannot be told from an ordinary difference.
    Raises NotFiniteError, PowerRangeError.
    """
    allowance = checks.allowance("allowance", allowance_d)
    tolerance = checks.power("tolerance", tolerance_d)
    if allowance <= 2.0 * tolerance:
        return None
    off = solved.vector - reference.vector
    for code, sign, said in (
        ("allowance_forgotten", 1.0, "more plus"),
        ("allowance_taken_twice", -1.0, "more minus"),
    ):
        if abs(off.m_d - sign * allowance) + off.astigmatism_d <= tolerance + checks.POWER_SLACK_D:
            slip = code.removeprefix("allowance_").replace("_", " ")
            text = (
                f"{solved} is {abs(off.m_d):.2f} D {said} than the reference {reference}: "
                f"was the allowance of {allowance:.2f} D {slip}?"
            )
            return Problem(code, text)
    return None
