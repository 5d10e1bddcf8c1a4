"""Random eyes as pictures, for whoever has to tell the motion from them."""

from dataclasses import dataclass
from random import Random

import numpy as np
import numpy.typing as npt

from voicelog.optics import PowerVector, SpheroCylinder, streak_to_meridian_deg
from voicelog.practice.frames import Drawing
from voicelog.practice.light import SPHERICAL_D_PER_MM2, Aberration, light
from voicelog.practice.reflex import Reflex, Retinoscope, reflex

Pictures = npt.NDArray[np.uint8]
FURTHEST_D = 6.0
CAMERA_NOISE = 2.0
"""Standard deviation of each of the 256 levels of grey."""


@dataclass(frozen=True)
class Sight:
    """An eye under a swept streak: how far it is from neutral, what the optics say, and the pictures."""

    error_d: float
    reflex: Reflex
    drawing: Drawing

    def pictures(self, count: int, seed: int) -> Pictures:
        """One sweep through a noisy camera."""
        clean = self.drawing.sweep(count)
        noise = np.random.default_rng(seed).normal(0.0, CAMERA_NOISE, clean.shape)
        return np.clip(clean + noise, 0.0, 255.0).astype(np.uint8)


def random_sight(seed: int, size_px: int, furthest_d: float = FURTHEST_D) -> Sight:
    """Any distance from neutral to either side alike; sphere, cylinder, streak, pupil, distance and media by chance."""
    chance = Random(f"sight {seed}")
    scope = Retinoscope(chance.uniform(0.5, 0.8))
    error_d = chance.uniform(-furthest_d, furthest_d)
    streak_deg = chance.choice((90.0, 180.0, chance.uniform(1.0, 180.0)))
    cylinder = SpheroCylinder(0.0, -chance.uniform(0.25, 3.0), chance.uniform(1.0, 180.0)).vector
    shape = cylinder if chance.random() < 0.5 else PowerVector(0.0, 0.0, 0.0)
    along = shape.power_along_d(streak_to_meridian_deg(streak_deg))
    needed = shape + PowerVector(error_d - scope.vergence_d - along, 0.0, 0.0)
    pupil_mm = chance.uniform(3.5, 6.5)
    clarity = chance.choice((1.0, 1.0, 1.0, 0.3))
    seen = reflex(needed, streak_deg, scope, pupil_mm=pupil_mm, clarity=clarity)
    shown = light(
        needed,
        streak_deg,
        scope,
        pupil_mm=pupil_mm,
        clarity=clarity,
        aberration=Aberration(SPHERICAL_D_PER_MM2),
    )
    return Sight(error_d, seen, Drawing(shown, size_px))
