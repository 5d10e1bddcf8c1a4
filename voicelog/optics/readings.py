"""What retinoscopy measured: the power that neutralised one meridian."""

from collections.abc import Iterable
from dataclasses import dataclass

from voicelog.optics import checks
from voicelog.optics.refraction import SpheroCylinder, combined_vector


@dataclass(frozen=True, slots=True)
class MeridianReading:
    """Neutral was seen with `power_d` (dioptres) acting along the power meridian `meridian_deg` (degrees).

    The meridian is the direction of the sweep, never the streak (`streak_to_meridian_deg` turns one
    into the other). The power is gross, or net when its allowance was taken off already.
    Raises NotFiniteError, PowerRangeError, AxisError.
    """

    meridian_deg: float
    power_d: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "meridian_deg", checks.axis("meridian", self.meridian_deg))
        object.__setattr__(self, "power_d", checks.power("reading", self.power_d))

    @classmethod
    def from_lenses(cls, meridian_deg: float, lenses: Iterable[SpheroCylinder]) -> "MeridianReading":
        """The reading made by the lenses before the eye: their thin-lens sum along the meridian.

        Leave out a working lens that is counted apart. Raises as the class.
        """
        return cls(meridian_deg, combined_vector(lenses).power_along_d(meridian_deg))
