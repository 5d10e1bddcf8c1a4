"""Simulated eyes and examiners for the checks of the belief: the eye's answers are worked out here, by NumPy alone.

The examiner turns the streak with an error that lasts until it is turned again, judges each look with an error of its
own, calls neutral what seems within half a quarter of it, and may slip: with the chance `lapse` any answer is given, and
at the look `slip_at` a lens is named that is 2 D off to the side that the answer contradicts. Nothing here knows how looks
are read.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from tests.optics.simulated_exams import TrueEye, folded
from voicelog.optics import Look, Motion, PowerVector, SpheroCylinder, next_lens_to_try
from voicelog.optics.belief import Glance, Speed

TECHNIQUES = ("two spheres", "sphere and cylinder", "two cylinders", "fan")
HALF_STEP_D = 0.125
GROSS_SLIP_D = 2.0
FAST_D, SLOW_D = 0.5, 2.0
"""Twice and half the streak's speed at 2/3 m with a source of 0.5 D: (1.5 - 0.5) / 2 and / 0.5."""


@dataclass
class Examiner:
    """One examiner at one eye: noise and lapse rate are theirs, `slips` holds the looks that were slips."""

    eye: TrueEye
    rng: np.random.Generator
    noise_d: float = 0.26
    streak_sd_deg: float = 3.0
    allowance_sd_d: float = 0.0
    lapse: float = 0.0
    speed_words: bool = False
    slip_at: int | None = None
    seen: list[Glance] = field(default_factory=list)
    slips: list[int] = field(default_factory=list)
    lens_changes: int = 0

    def __post_init__(self) -> None:
        self.distance_d = float(self.rng.normal(0.0, 1.0)) * self.allowance_sd_d
        self.streak_deg: float | None = None
        self.turned_deg = 0.0
        self.lens: SpheroCylinder | None = None

    def principal_streak_deg(self) -> float:
        """Where the streak comes to lie along the band: off by its setting and by what cannot be seen off axis."""
        unseen = math.hypot(self.noise_d, 0.072) / math.sqrt(2.0)
        cylinder = abs(self.eye.cylinder_d)
        turn = math.hypot(math.radians(self.streak_sd_deg), unseen / cylinder) if cylinder else math.pi
        return folded(round(self.eye.axis_deg + math.degrees(float(self.rng.normal(0.0, turn)))))

    def look(self, lens: SpheroCylinder, streak_deg: float, *, aligned: bool) -> Glance:
        """One look through a lens with the streak at an angle; an aligned streak is off already, and stays as it is."""
        if streak_deg != self.streak_deg:
            self.turned_deg = 0.0 if aligned else float(self.rng.normal(0.0, self.streak_sd_deg))
            self.streak_deg = streak_deg
        if lens != self.lens:
            self.lens_changes, self.lens = self.lens_changes + 1, lens
        true_deg = folded(streak_deg + 90.0 + self.turned_deg)
        judged = self.eye.power_d(true_deg) + self.distance_d - lens.vector.power_along_d(true_deg)
        judged += float(self.rng.normal(0.0, self.noise_d))
        motion, speed = self._called(judged)
        if self.rng.random() < self.lapse:
            self.slips.append(len(self.seen))
            others: tuple[Motion, ...] = ("with", "against", "neutral")
            motion, speed = others[int(self.rng.integers(3))], None
        named = folded(streak_deg + 90.0)
        power = lens.vector.power_along_d(named)
        if self.slip_at == len(self.seen):
            self.slips.append(len(self.seen))
            power += -GROSS_SLIP_D if motion == "against" else GROSS_SLIP_D
        glance = Glance(Look(named, power, motion), speed)
        self.seen.append(glance)
        return glance

    def _called(self, judged: float) -> tuple[Motion, Speed | None]:
        if abs(judged) <= HALF_STEP_D:
            return "neutral", None
        speed: Speed | None = None
        if self.speed_words:
            fast, slow = (limit * (1.0 + 0.25 * float(self.rng.normal())) for limit in (FAST_D, SLOW_D))
            speed = "fast" if abs(judged) < fast else "slow" if abs(judged) > slow else None
        return ("with" if judged > 0.0 else "against"), speed


def bracket(
    examiner: Examiner,
    lens: Callable[[float], SpheroCylinder],
    streak: float,
    *,
    aligned: bool,
    around_d: float | None = None,
) -> float:
    """The lens called neutral in one meridian, by halving; the upper of the last two where none is.

    From nothing known, or within 0.75 D of a lens that was found before.
    """
    lower = None if around_d is None else around_d - 0.75
    upper = None if around_d is None else around_d + 0.75
    while (power := next_lens_to_try(lower, upper)) is not None:
        seen = examiner.look(lens(power), streak, aligned=aligned).look
        if seen.motion == "neutral":
            return power
        lower, upper = (power, upper) if seen.motion == "with" else (lower, power)
    return (lower or 0.0) if upper is None else upper


def examine(examiner: Examiner, technique: str) -> Sequence[Glance]:
    """One eye examined by bracketing in one of the four techniques; every look is told."""
    if technique == "fan":
        start = float(examiner.rng.integers(1, 181))
        for turn in (0.0, 60.0, 120.0):
            bracket(examiner, SpheroCylinder, folded(start + turn), aligned=False)
        return examiner.seen
    streak = examiner.principal_streak_deg()
    other = folded(streak + 90.0)
    if technique == "two cylinders":
        for each in (streak, other):
            bracket(examiner, partial(_cylinder_alone, each), each, aligned=True)
        return examiner.seen
    sphere = bracket(examiner, SpheroCylinder, streak, aligned=True)
    if technique == "two spheres":
        bracket(examiner, SpheroCylinder, other, aligned=True)
    else:
        bracket(examiner, lambda power: _cylinder(sphere, power, other), other, aligned=True)
    return examiner.seen


def _cylinder_alone(axis_deg: float, cylinder_d: float) -> SpheroCylinder:
    return _cylinder(0.0, cylinder_d, axis_deg)


def _cylinder(sphere_d: float, cylinder_d: float, axis_deg: float) -> SpheroCylinder:
    return SpheroCylinder(sphere_d, cylinder_d, axis_deg if cylinder_d else None)


def random_eye(rng: np.random.Generator) -> TrueEye:
    """Sphere -8 to +6, cylinder to 4, any axis, alike likely; one eye in eight without a cylinder."""
    cylinder = 0.0 if rng.random() < 0.125 else -float(rng.uniform(0.25, 4.0))
    return TrueEye(float(rng.uniform(-8.0, 6.0)), cylinder, float(rng.uniform(0.0, 180.0)))


def held_eye(rng: np.random.Generator, technique: str) -> TrueEye:
    """An eye as the belief holds it before any look: M 0 ± 5 D, any axis, cylinders to 6 D.

    In a fan every (J0, J45) within 3 D is alike likely. Along the band every size is: that is what the belief makes of the streak
    that was laid there (see `Evidence._along_band`).
    """
    share = float(rng.random())
    half = 3.0 * (math.sqrt(share) if technique == "fan" else share)
    return TrueEye(float(rng.normal(0.0, 5.0)) + half, -2.0 * half, float(rng.uniform(0.0, 180.0)))


def off_d(eye: TrueEye, vector: PowerVector, meridian_deg: float) -> float:
    """Error of an estimate along a meridian, dioptres."""
    return vector.power_along_d(meridian_deg) - eye.power_d(meridian_deg)
