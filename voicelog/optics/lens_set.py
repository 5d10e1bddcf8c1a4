"""Trial lenses: which make a power, and which to try next."""

import itertools
import math
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from voicelog.optics import checks
from voicelog.optics.errors import BoundsError, LensSetError
from voicelog.optics.rounding import QUARTER_D, round_to_step

_SAME_D: Final = 1e-6


def _steps(first_d: float, last_d: float, step_d: float) -> tuple[float, ...]:
    count = round((last_d - first_d) / step_d)
    return tuple(first_d + step_d * index for index in range(count + 1))


# A usual full set, from memory: spheres 0.12, by 0.25 to 4.00, by 0.50 to 6.00, by 1.00 to 14.00, by 2.00
# to 20.00; cylinders 0.12, by 0.25 to 2.00, by 0.50 to 6.00. Sets differ, so the set is a setting.
COMMON_SPHERES_D: Final = (
    0.125,
    *_steps(0.25, 4.0, 0.25),
    *_steps(4.5, 6.0, 0.5),
    *_steps(7.0, 14.0, 1.0),
    *_steps(16.0, 20.0, 2.0),
)
COMMON_CYLINDERS_D: Final = (0.125, *_steps(0.25, 2.0, 0.25), *_steps(2.5, 6.0, 0.5))


@dataclass(frozen=True, slots=True)
class LensSet:
    """Nominal powers of the trial lenses at hand, dioptres, ascending and positive; each comes in both signs.

    `most_lenses` is how many of one kind may be stacked. Raises LensSetError, NotFiniteError,
    PowerRangeError.
    """

    spheres_d: tuple[float, ...] = COMMON_SPHERES_D
    cylinders_d: tuple[float, ...] = COMMON_CYLINDERS_D
    most_lenses: int = 3

    def __post_init__(self) -> None:
        for kind, powers in (("spheres", self.spheres_d), ("cylinders", self.cylinders_d)):
            for power in powers:
                checks.power(f"lens among the {kind}", power)
            ascending = all(a < b for a, b in itertools.pairwise((0.0, *powers)))
            if not powers or not ascending:
                raise LensSetError(f"{kind} are {powers}; ascending powers above 0 are needed")
        if self.most_lenses not in (1, 2, 3):
            raise LensSetError(f"most_lenses is {self.most_lenses!r}; 1 to 3 is allowed")

    def nearest_single_d(self, power_d: float) -> float:
        """The nominal sphere nearest to a power (0 for no lens), dioptres; half-way to the stronger."""
        size = abs(checks.power("power", power_d))
        nearest = min((0.0, *self.spheres_d), key=lambda lens: (abs(lens - size), -lens))
        return math.copysign(nearest, power_d) + 0.0


COMMON_LENS_SET: Final = LensSet()


def lenses_for_power(
    power_d: float, lens_set: LensSet = COMMON_LENS_SET, *, cylinder: bool = False
) -> tuple[float, ...]:
    """The fewest nominal lenses that add up to a power, strongest first: -9.25 is (-9.00, -0.25).

    Among equally few, lenses of one sign come before mixed signs, then the strongest first lens. No
    lens makes 0. Raises LensSetError when the set cannot make the power, NotFiniteError, PowerRangeError.
    """
    checks.power("power", power_d)
    made = _combination(power_d, lens_set, cylinder)
    if made is None:
        kind = "cylinder" if cylinder else "sphere"
        most = f"at most {lens_set.most_lenses} {kind} lenses of the set"
        raise LensSetError(f"{power_d:+.2f} D cannot be made from {most}")
    return made


@lru_cache(maxsize=4096)
def _combination(power_d: float, lens_set: LensSet, cylinder: bool) -> tuple[float, ...] | None:
    if abs(power_d) < _SAME_D:
        return ()
    lenses = lens_set.cylinders_d if cylinder else lens_set.spheres_d
    sign = math.copysign(1.0, power_d)
    same_sign = [sign * lens for lens in reversed(lenses)]
    for count in range(1, lens_set.most_lenses + 1):
        for usable in (same_sign, same_sign + [-lens for lens in same_sign]):
            found = _sum_of(power_d, usable, count)
            if found is not None:
                return found
    return None


def _sum_of(power_d: float, usable: list[float], count: int) -> tuple[float, ...] | None:
    """`count` lenses (repeats allowed: sets hold pairs) adding up to a power; earlier lenses preferred."""
    if count == 1:
        return next(((lens,) for lens in usable if abs(lens - power_d) < _SAME_D), None)
    for index, lens in enumerate(usable):
        rest = _sum_of(power_d - lens, usable[index:], count - 1)
        if rest is not None:
            return (lens, *rest)
    return None


def trials_needed(candidates: int) -> int:
    """Fewest trials sure to find one of `candidates` lenses when each trial answers with, against or neutral.

    A trial of the middle one leaves at most half: 1 needs 1, 3 need 2, 7 need 3 (binary search).
    """
    return math.ceil(math.log2(candidates + 1)) if candidates > 0 else 0


def next_lens_to_try(
    lower_d: float | None,
    upper_d: float | None,
    lens_set: LensSet = COMMON_LENS_SET,
    *,
    step_d: float = QUARTER_D,
    start_d: float = 0.0,
) -> float | None:
    """The power to try next in a meridian, dioptres, given the known bounds of its neutral power.

    Between two bounds the middle, or a power that needs fewer lenses if it costs no trial in the worst
    case. With one bound, a stride beyond it that doubles with the distance from `start_d`. With none,
    `start_d`. None when no power in steps of `step_d` lies strictly between the bounds.
    Raises BoundsError when the lower bound is not below the upper, NotFiniteError, PowerRangeError.
    """
    if lower_d is None and upper_d is None:
        return checks.power("start", start_d)
    if lower_d is None or upper_d is None:
        return _stride(lower_d, upper_d, start_d, step_d)
    lower, upper = checks.power("lower bound", lower_d), checks.power("upper bound", upper_d)
    if lower >= upper:
        raise BoundsError(f"lower bound {lower:+.2f} D is not below upper bound {upper:+.2f} D")
    first = math.floor(lower / step_d + _SAME_D) + 1
    last = math.ceil(upper / step_d - _SAME_D) - 1
    count = last - first + 1
    if count < 1:
        return None
    largest_side = 2 ** (trials_needed(count) - 1) - 1
    middle = (first + last) / 2.0
    usable = [k for k in range(first, last + 1) if max(k - first, last - k) <= largest_side]
    best = min(usable, key=lambda k: (_lens_count(k * step_d, lens_set), abs(k - middle), -k))
    return best * step_d


def _stride(lower_d: float | None, upper_d: float | None, start_d: float, step_d: float) -> float | None:
    """One bound only: go on in the same direction, twice as far from the start, 1.00 D at least."""
    known_d = checks.power("bound", lower_d if lower_d is not None else upper_d or 0.0)
    direction = 1.0 if lower_d is not None else -1.0
    travelled = max(1.0, direction * (known_d - start_d))
    limit = round_to_step(checks.MAX_POWER_D, step_d)
    target = max(-limit, min(limit, round_to_step(known_d + direction * travelled, step_d)))
    return target if direction * (target - known_d) > _SAME_D else None


def _lens_count(power_d: float, lens_set: LensSet) -> int:
    made = _combination(power_d, lens_set, False)
    return lens_set.most_lenses + 1 if made is None else len(made)


@dataclass(frozen=True, slots=True)
class LensEffort:
    """Trials used in a meridian, and the fewest that are sure to suffice for the same range."""

    used: int
    best_possible: int


def lens_effort(
    tried_d: Iterable[float], lowest_d: float, highest_d: float, step_d: float = QUARTER_D
) -> LensEffort:
    """Compare the lenses tried in one meridian (dioptres, in order; the same lens twice running is one
    trial) with the best possible for a neutral power anywhere from `lowest_d` to `highest_d`.

    Raises BoundsError, NotFiniteError, PowerRangeError.
    """
    lowest, highest = checks.power("lowest", lowest_d), checks.power("highest", highest_d)
    if lowest > highest:
        raise BoundsError(f"lowest {lowest:+.2f} D is above highest {highest:+.2f} D")
    used = len(list(itertools.groupby(tried_d)))
    return LensEffort(used, trials_needed(math.floor((highest - lowest) / step_d + _SAME_D) + 1))
