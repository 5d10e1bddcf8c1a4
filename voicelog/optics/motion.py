"""What reflexes that are not neutral say: bounds on the neutral power of each meridian.

With a plane mirror (divergent beam) with motion means the neutral power lies to the plus side of the
lenses in place, against to the minus side. A concave-mirror sleeve reverses both.
Source: retinoscopy teaching (AAO Basic and Clinical Science Course, Clinical Optics, retinoscopy chapter).

Within one meridian no error is allowed for: whoever calls a lens neutral has seen the motions around it, so
that a log in which both cannot be true holds a slip of the tongue or of the ear, however small.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from voicelog.optics import checks
from voicelog.optics.angles import axis_difference_deg
from voicelog.optics.fitting import SAME_MERIDIAN_DEG, distinct_meridians
from voicelog.optics.problems import Problem
from voicelog.optics.readings import Look, Motion, check_motion
from voicelog.optics.solution import Contradiction
from voicelog.optics.written import written_degrees, written_power

_LEAST_SD_D: Final = 1e-6


@dataclass(frozen=True, slots=True)
class MotionReading:
    """A reflex seen: meridian swept (degrees), summed lens power along it (gross, dioptres), and its motion.

    Raises NotFiniteError, PowerRangeError, AxisError, MotionError.
    """

    meridian_deg: float
    lens_power_d: float
    motion: Motion

    def __post_init__(self) -> None:
        object.__setattr__(self, "meridian_deg", checks.axis("meridian", self.meridian_deg))
        object.__setattr__(self, "lens_power_d", checks.power("lens power", self.lens_power_d))
        check_motion(self.motion)


@dataclass(frozen=True, slots=True)
class MeridianBounds:
    """What the reflexes of one meridian say of its gross neutral power, dioptres.

    lower_d, upper_d  it is above / below these; None when unbounded
    neutral_d         the last lens that was neutral; None if none was
    problems          contradictions in words; `conflicting` holds the indices of the readings involved
    """

    meridian_deg: float
    lower_d: float | None
    upper_d: float | None
    neutral_d: float | None
    problems: tuple[Problem, ...] = ()
    conflicting: tuple[int, ...] = ()


def bounds_by_meridian(
    readings: Sequence[MotionReading], *, concave_mirror: bool = False
) -> tuple[MeridianBounds, ...]:
    """Bounds and contradictions for each meridian, in order of first appearance.

    Of several neutral lenses the last one stands. Problem codes: "motions_contradict" (the interval is
    empty), "neutral_outside_bounds".
    """
    looks = [Look(each.meridian_deg, each.lens_power_d, each.motion, concave_mirror) for each in readings]
    return tuple(
        _bounds(meridian, looks, at_meridian(looks, range(len(looks)), meridian))
        for meridian in distinct_meridians([look.meridian_deg for look in looks])
    )


def _bounds(meridian_deg: float, looks: Sequence[Look], here: Sequence[int]) -> MeridianBounds:
    standing = [index for index in here if looks[index].motion == "neutral"][-1:]
    lower, upper = tightest(looks, here)
    found = contradictions_along(looks, here, standing)
    return MeridianBounds(
        meridian_deg,
        None if lower is None else looks[lower].power_d,
        None if upper is None else looks[upper].power_d,
        looks[standing[0]].power_d if standing else None,
        tuple(each.problem for each in found),
        tuple(sorted({index for each in found for index in each.looks})),
    )


def at_meridian(looks: Sequence[Look], indices: Iterable[int], meridian_deg: float) -> list[int]:
    """Those of the indices whose looks lie along a meridian (degrees)."""
    return [
        index
        for index in indices
        if abs(axis_difference_deg(looks[index].meridian_deg, meridian_deg)) <= SAME_MERIDIAN_DEG
    ]


def tightest(looks: Sequence[Look], indices: Iterable[int]) -> tuple[int | None, int | None]:
    """Indices of the looks that bound the neutral power most narrowly from below and from above."""
    known = list(indices)
    lower = max((i for i in known if looks[i].wants_plus), key=lambda i: (looks[i].power_d, i), default=None)
    upper = min((i for i in known if looks[i].wants_minus), key=lambda i: (looks[i].power_d, i), default=None)
    return lower, upper


def contradictions_along(
    looks: Sequence[Look], here: Sequence[int], standing: Sequence[int]
) -> list[Contradiction]:
    """Contradictions among the looks `here` of one meridian; `standing` are its neutral ones that count."""
    lower, upper = tightest(looks, here)
    found = []
    if lower is not None and upper is not None and looks[lower].power_d >= looks[upper].power_d:
        other = looks[upper]
        text = (
            f"{asks(looks[lower])}; {other.motion} motion at {signed(other.power_d)} asks for {_side(other)}"
        )
        found.append(Contradiction(Problem("motions_contradict", text), (lower, upper)))
    for index in standing:
        power = looks[index].power_d
        broken = []
        if lower is not None and power <= looks[lower].power_d:
            broken.append(lower)
        if upper is not None and power >= looks[upper].power_d:
            broken.append(upper)
        for bound in broken:
            text = f"{asks(looks[bound])}; neutral there was {signed(power)}"
            found.append(Contradiction(Problem("neutral_outside_bounds", text), (bound, index)))
    return found


def asks(look: Look) -> str:
    """What a motion means, in words: "with motion at +3.50 along 90 asks for more plus"."""
    mirror = " (concave mirror)" if look.concave_mirror else ""
    along = f"along {written_degrees(look.meridian_deg)}{mirror}"
    return f"{look.motion} motion at {signed(look.power_d)} {along} asks for {_side(look)}"


def _side(look: Look) -> str:
    return "more plus" if look.wants_plus else "more minus"


def signed(power_d: float) -> str:
    """Like `written_power`, but 0 stays a number: "motion at plano" reads badly."""
    text = written_power(power_d)
    return "0.00" if text == "plano" else text


def bracket_sd_d(width_d: float, judgement_sd_d: float) -> float:
    """Standard deviation of a neutral power between two motions `width_d` apart, dioptres.

    The power N is taken as anything at first; it was judged above the lower lens and below the upper one, each
    time with a normal error. With the bounds a and b so blurred, W = b - a is normal (width_d, t = s sqrt 2)
    and the middle of a and b is normal with variance s^2/2, so that the variance of N is
    s^2/2 + E[W^3; W > 0] / (12 E[W; W > 0]). Without errors that is width/sqrt(12). (Derived here; checked
    against numerical integration in the tests.)
    """
    sd = max(judgement_sd_d, _LEAST_SD_D)
    spread = sd * math.sqrt(2.0)
    ratio = width_d / spread
    below = 0.5 * math.erfc(-ratio / math.sqrt(2.0))
    density = math.exp(-ratio * ratio / 2.0) / math.sqrt(2.0 * math.pi)
    first = width_d * below + spread * density
    third = (width_d**3 + 3.0 * width_d * spread**2) * below
    third += (width_d**2 * spread + 2.0 * spread**3) * density
    return math.sqrt(sd * sd / 2.0 + third / (12.0 * first))
