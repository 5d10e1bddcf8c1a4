"""What each look of a lesson ruled out: the powers that were left after it, and what it could tell of them. Pure.

A look is read as an attentive learner reads it: the motion, whether it was fast or slow, how the band lay. Nothing is
known of the eye before, nor of its axis.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby
from typing import Final

from voicelog.optics import (
    ErrorModel,
    Look,
    SpheroCylinder,
    axis_difference_deg,
    normalise_axis_deg,
    perpendicular_deg,
    streak_to_meridian_deg,
)
from voicelog.optics.belief import (
    Belief,
    Costs,
    Enough,
    Glance,
    LookModel,
    Speed,
    advise,
    believe,
    expected_gain,
)
from voicelog.optics.reflex_speed import FAST_SEEN, SLOW_SEEN
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import Glimpse
from voicelog.practice.reflex import Reflex, SeenMotion

JUDGED_SD_D: Final = 0.1
"""How well neutral is judged here: the simulated eye's zone is an eighth of a dioptre wide on either side."""
_FREE: Final = Costs(turn=0.0, far_lens=0.0, cylinder=0.0, stacked=0.0)
_LITTLE_BITS: Final = 0.05
_ALONG_DEG: Final = 1.0  # a cylinder so near to the streak or across it turns no band
_NAT_BITS: Final = 1.0 / math.log(2.0)


@dataclass(frozen=True, slots=True)
class RuledOut:
    """One look, and what it left.

    left_d     after it, the middle 95 % of net power along each meridian of `Map.meridians_deg`, dioptres
    bits       what its answer was expected to tell, bits
    best_bits  the same of the most telling look there was; 0 where the eye was known well enough
    """

    streak_deg: float
    lenses: SpheroCylinder
    motion: SeenMotion
    left_d: tuple[tuple[float, float], tuple[float, float]]
    bits: float
    best_bits: float


@dataclass(frozen=True, slots=True)
class Map:
    """The looks of a lesson in their order, alike ones twice running once.

    meridians_deg  the eye's principal meridians: what `left_d` is along
    truth_d        the powers there, net, dioptres
    share          what the looks told, as a share of what the most telling ones would have; None without any
    """

    meridians_deg: tuple[float, float]
    truth_d: tuple[float, float]
    looks: tuple[RuledOut, ...]
    share: float | None


def judged_model(exercise: Exercise) -> LookModel:
    """By what a look at the simulated eye is read: its own tremor and noise are known."""
    eye = exercise.model
    sd = math.hypot(JUDGED_SD_D, eye.tremor_d, eye.noise_d)
    return LookModel(
        ErrorModel(neutrality_sd_d=sd),
        exercise.distance_cm / 100.0,
        all_told=True,
        speed_words=True,
        noise_spread=0.0,
    )


def ruled_out(exercise: Exercise, glimpses: Sequence[Glimpse]) -> Map:
    """The map of a lesson. Takes some hundredths of a second a look; it is kept."""
    seen = tuple(
        next(alike)
        for _, alike in groupby(glimpses, lambda each: (each.lenses, each.streak_deg, each.reflex.motion))
    )
    return _mapped(exercise, tuple((each.lenses, each.streak_deg, each.reflex) for each in seen))


@lru_cache(maxsize=8)
def _mapped(exercise: Exercise, seen: tuple[tuple[SpheroCylinder, float, Reflex], ...]) -> Map:
    truth = exercise.model.refraction
    axis = truth.minus_cylinder().axis_deg or 180.0
    meridians = (normalise_axis_deg(axis), perpendicular_deg(axis))
    allowance = exercise.scope.vergence_d - exercise.working_lens_d
    model = judged_model(exercise)
    glances: list[Glance] = []
    belief = believe((), allowance_d=allowance, model=model, along_band=False)
    looks = []
    for lenses, streak, reflex in seen:
        power = lenses.vector.power_along_d(streak_to_meridian_deg(streak))
        could = expected_gain(belief, streak_to_meridian_deg(streak), power) * _NAT_BITS
        best = _best_bits(belief)
        glance = glance_of(lenses, streak, reflex, concave=exercise.concave_mirror)
        if glance is not None:
            glances.append(glance)
            belief = believe(glances, allowance_d=allowance, model=model, along_band=False)
        left = (belief.interval_d(meridians[0]), belief.interval_d(meridians[1]))
        looks.append(RuledOut(streak, lenses, reflex.motion, left, could, max(best, could) if best else 0.0))
    wanted = math.fsum(look.best_bits for look in looks)
    told = math.fsum(look.bits for look in looks if look.best_bits)
    powers = (truth.power_along_d(meridians[0]), truth.power_along_d(meridians[1]))
    return Map(meridians, powers, tuple(looks), told / wanted if wanted > _LITTLE_BITS else None)


def _best_bits(belief: Belief) -> float:
    told = advise(belief, costs=_FREE)
    return 0.0 if isinstance(told, Enough) else told.gain * _NAT_BITS


def glance_of(lenses: SpheroCylinder, streak_deg: float, reflex: Reflex, *, concave: bool) -> Glance | None:
    """A look as a learner can read it; None where the reflex stands still: it does not say which way."""
    if reflex.motion == "still":
        return None
    meridian = streak_to_meridian_deg(streak_deg)
    look = Look(meridian, lenses.vector.power_along_d(meridian), reflex.motion, concave)
    if reflex.motion == "neutral":
        return Glance(look)
    speed: Speed | None = (
        "fast" if reflex.speed >= FAST_SEEN else "slow" if reflex.speed <= SLOW_SEEN else None
    )
    # A cylinder that lies across the streak turns the band by itself.
    straight = lenses.axis_deg is None or any(
        abs(axis_difference_deg(lenses.axis_deg, each)) <= _ALONG_DEG for each in (streak_deg, meridian)
    )
    return Glance(look, speed, band_deg=reflex.band_deg if straight else None)
