"""What retinoscopy saw: one look at the reflex, and the power that neutralised one meridian."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from voicelog.optics import checks
from voicelog.optics.errors import MotionError
from voicelog.optics.refraction import SpheroCylinder, combined_vector

Motion = Literal["with", "against", "neutral"]


def check_motion(motion: str) -> None:
    """Raise MotionError unless `motion` is "with", "against" or "neutral"."""
    if motion not in ("with", "against", "neutral"):
        raise MotionError(f'motion is {motion!r}; allowed is "with", "against" or "neutral"')


@dataclass(frozen=True, slots=True)
class Look:
    """One look at the reflex: meridian swept (degrees), lens power along it (dioptres), motion seen.

    The meridian is the direction of the sweep, never the streak. The powers of one list are all gross or
    all net. A concave mirror reverses with and against.
    Raises NotFiniteError, PowerRangeError, AxisError, MotionError.
    """

    meridian_deg: float
    power_d: float
    motion: Motion
    concave_mirror: bool = False

    def __post_init__(self) -> None:
        object.__setattr__(self, "meridian_deg", checks.axis("meridian", self.meridian_deg))
        object.__setattr__(self, "power_d", checks.power("lens power", self.power_d))
        check_motion(self.motion)

    @property
    def wants_plus(self) -> bool:
        """Whether the motion puts the neutral power to the plus side of the lens; False too when neutral."""
        return self.motion != "neutral" and (self.motion == "with") != self.concave_mirror

    @property
    def wants_minus(self) -> bool:
        """Whether the motion puts the neutral power to the minus side of the lens; False too when neutral."""
        return self.motion != "neutral" and not self.wants_plus


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
