"""How many lenses an eye takes when each look is the one that tells most: a learner's count is held to it. Pure.

The looks are those of `optics.belief.advise`, answered as the simulated eye answers without tremor or noise. The band
is known from the start: a learner has to find it, and needs a few looks for that.
"""

from functools import lru_cache
from typing import Final

from voicelog.optics import (
    ErrorModel,
    Look,
    SpheroCylinder,
    streak_to_meridian_deg,
)
from voicelog.optics.belief import Enough, Glance, InPlace, LookModel, Speed, advise, believe
from voicelog.optics.reflex_speed import FAST_SEEN, FASTEST_SEEN, SLOW_SEEN, error_at_speed_d
from voicelog.practice.exercise import Exercise
from voicelog.practice.ruled_out import JUDGED_SD_D

_MOST: Final = 30


@lru_cache(maxsize=64)
def most_telling_lenses(exercise: Exercise) -> int | None:
    """Lenses until both meridians are within a quarter with a chance of 95 %; None where 30 looks are not enough."""
    distance_m = exercise.distance_cm / 100.0
    model = LookModel(
        ErrorModel(neutrality_sd_d=JUDGED_SD_D),
        distance_m,
        all_told=True,
        speed_words=True,
        noise_spread=0.0,
    )
    streak = _streak_deg(exercise.model.refraction)
    in_place = InPlace(SpheroCylinder(0.0), streak)
    glances: list[Glance] = []
    lenses = 0
    while len(glances) < _MOST:
        belief = believe(glances, allowance_d=1.0 / distance_m, model=model)
        told = advise(belief, in_place, technique=exercise.technique)
        if isinstance(told, Enough):
            return lenses
        lens = told.lens
        lenses += lens not in (in_place.lens, SpheroCylinder(0.0))
        # Before the first look the advice names no band.
        in_place = InPlace(lens, told.streak_deg if glances else streak)
        glances.append(_glance(exercise, lens, in_place.streak_deg or 180.0))
    return None


def _streak_deg(truth: SpheroCylinder) -> float:
    """A streak along the band: along the minus cylinder's axis; upright for a sphere."""
    axis = truth.minus_cylinder().axis_deg
    return 90.0 if axis is None else axis


def _glance(exercise: Exercise, lens: SpheroCylinder, streak_deg: float) -> Glance:
    """What the eye shows through a lens, from the distance between the lens and the neutral one."""
    meridian = streak_to_meridian_deg(streak_deg)
    vergence = 1.0 / (exercise.distance_cm / 100.0)
    wanted = exercise.model.refraction.vector.power_along_d(meridian) + vergence
    power = lens.vector.power_along_d(meridian)
    off, (fastest, fast, slow) = (
        wanted - power,
        (error_at_speed_d(each, vergence) for each in (FASTEST_SEEN, FAST_SEEN, SLOW_SEEN)),
    )
    if abs(off) <= fastest:
        return Glance(Look(meridian, power, "neutral"))
    speed: Speed | None = "fast" if abs(off) <= fast else "slow" if abs(off) >= slow else None
    return Glance(Look(meridian, power, "with" if off > 0.0 else "against"), speed)
