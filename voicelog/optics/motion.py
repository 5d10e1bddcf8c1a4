"""What reflexes that are not neutral say: bounds on the neutral power of each meridian.

With a plane mirror (divergent beam) with motion means the neutral power lies to the plus side of the
lenses in place, against to the minus side. A concave-mirror sleeve reverses both.
Source: retinoscopy teaching (AAO Basic and Clinical Science Course, Clinical Optics, retinoscopy chapter).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from voicelog.optics import checks
from voicelog.optics.angles import axis_difference_deg
from voicelog.optics.errors import MotionError
from voicelog.optics.fitting import SAME_MERIDIAN_DEG, distinct_meridians
from voicelog.optics.problems import Problem
from voicelog.optics.written import written_power

Motion = Literal["with", "against", "neutral"]

NEUTRAL_RANGE_D: Final = 0.5  # neutral may be seen over this range (common practice, no source)


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
        if self.motion not in ("with", "against", "neutral"):
            raise MotionError(f'motion is {self.motion!r}; allowed is "with", "against" or "neutral"')


@dataclass(frozen=True, slots=True)
class MeridianBounds:
    """What the reflexes of one meridian say of its gross neutral power, dioptres.

    lower_d, upper_d  it is above / below these; None when unbounded
    neutral_d         the most plus lens that was neutral; None if none was
    problems          contradictions in words; `conflicting` holds the indices of the readings involved
    """

    meridian_deg: float
    lower_d: float | None
    upper_d: float | None
    neutral_d: float | None
    problems: tuple[Problem, ...] = ()
    conflicting: tuple[int, ...] = ()


def bounds_by_meridian(
    readings: Sequence[MotionReading],
    *,
    concave_mirror: bool = False,
    neutral_range_d: float = NEUTRAL_RANGE_D,
) -> tuple[MeridianBounds, ...]:
    """Bounds and contradictions for each meridian, in order of first appearance.

    Several neutral lenses within `neutral_range_d` are one neutral range, of which the most plus is
    taken (common practice). Problem codes: "motions_contradict" (the interval is empty),
    "neutral_outside_bounds", "neutral_twice". Raises NotFiniteError.
    """
    checks.finite("neutral range", neutral_range_d)
    meridians = distinct_meridians([reading.meridian_deg for reading in readings])
    return tuple(_bounds(meridian, readings, concave_mirror, neutral_range_d) for meridian in meridians)


def _bounds(
    meridian_deg: float, readings: Sequence[MotionReading], concave: bool, neutral_range_d: float
) -> MeridianBounds:
    here = [
        (index, reading)
        for index, reading in enumerate(readings)
        if abs(axis_difference_deg(reading.meridian_deg, meridian_deg)) <= SAME_MERIDIAN_DEG
    ]
    plus_side: Motion = "against" if concave else "with"
    minus_side: Motion = "with" if concave else "against"
    below = [(r.lens_power_d, i) for i, r in here if r.motion == plus_side]
    above = [(r.lens_power_d, i) for i, r in here if r.motion == minus_side]
    neutral = [(r.lens_power_d, i) for i, r in here if r.motion == "neutral"]
    lower, upper = max(below, default=None), min(above, default=None)
    words = _Words(f" in the {meridian_deg:g} meridian", " (concave mirror)" if concave else "")
    found = [
        *_crossed(lower, upper, plus_side, minus_side, words),
        *_outside(neutral, lower, upper, plus_side, minus_side, words),
        *_spread(neutral, neutral_range_d, words),
    ]
    return MeridianBounds(
        meridian_deg,
        lower[0] if lower else None,
        upper[0] if upper else None,
        max(neutral)[0] if neutral else None,
        tuple(problem for problem, _ in found),
        tuple(sorted({index for _, indices in found for index in indices})),
    )


_Seen = tuple[float, int]  # lens power in dioptres, index of the reading
_Found = tuple[Problem, tuple[int, ...]]


@dataclass(frozen=True, slots=True)
class _Words:
    where: str
    mirror: str


def _crossed(
    lower: _Seen | None, upper: _Seen | None, plus_side: str, minus_side: str, words: _Words
) -> list[_Found]:
    if lower is None or upper is None or lower[0] < upper[0]:
        return []
    low, high = _signed(lower[0]), _signed(upper[0])
    text = (
        f"{plus_side} motion at {low}{words.where}{words.mirror} says the neutral lens is more plus "
        f"than {low}; {minus_side} motion at {high} says it is more minus than {high}"
    )
    return [(Problem("motions_contradict", text), (lower[1], upper[1]))]


def _outside(
    neutral: list[_Seen],
    lower: _Seen | None,
    upper: _Seen | None,
    plus_side: str,
    minus_side: str,
    words: _Words,
) -> list[_Found]:
    found: list[_Found] = []
    for power, index in neutral:
        for bound, motion, side, broken in (
            (lower, plus_side, "more plus", lower is not None and power <= lower[0]),
            (upper, minus_side, "more minus", upper is not None and power >= upper[0]),
        ):
            if bound is not None and broken:
                at = _signed(bound[0])
                text = (
                    f"{motion} motion at {at}{words.where}{words.mirror} says the neutral lens is {side} "
                    f"than {at}; {_signed(power)} was logged"
                )
                found.append((Problem("neutral_outside_bounds", text), (bound[1], index)))
    return found


def _spread(neutral: list[_Seen], neutral_range_d: float, words: _Words) -> list[_Found]:
    if not neutral:
        return []
    least, most = min(neutral), max(neutral)
    if most[0] - least[0] <= neutral_range_d + checks.POWER_SLACK_D:
        return []
    text = (
        f"neutral was logged at {_signed(least[0])} and at {_signed(most[0])}{words.where}, "
        f"{most[0] - least[0]:.2f} D apart"
    )
    return [(Problem("neutral_twice", text), (least[1], most[1]))]


def _signed(power_d: float) -> str:
    """Like `written_power`, but 0 stays a number: "motion at plano" reads badly."""
    text = written_power(power_d)
    return "0.00" if text == "plano" else text
