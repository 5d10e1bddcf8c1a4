"""The light in the pupil, point by point, while the streak sweeps: the geometry of `reflex.py` without its summing up.

A ray through the pupil point y, to the middle of the peephole, left the retina at the visual angle u(y): along the
sweep the angle is u(y) = n'T(y) + W n'y, where T(y) is what the eye lacks at y (K y for a perfect eye, in milliradians
for y in millimetres and K in dioptres). The light that comes in through the pupil point z reaches the retina at
n'T(z) + S n'z + b (W - S), when the beam is b from the middle. So the retina carries one blurred line, whose profile
across is the distribution of n'T(z) + S n'z over the pupil, widened by the source and, in the examiner's view, by the
peephole; and the pupil at y is as bright as that profile is at u(y) - b (W - S). Nothing else is assumed. For a
perfect eye the profile is a half-ellipse, which is why a reflex has soft edges.

The beam on the face is taken to be wider than the pupil, and the retina to scatter evenly. Light is counted against
the middle of the band of a clear eye that is neutral.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt

from voicelog.optics import PowerVector, streak_to_meridian_deg
from voicelog.practice.reflex import PEEPHOLE_RADIUS_MM, PUPIL_MM, STREAK_MRAD, Retinoscope, components

Numbers = npt.NDArray[np.float64]

SPHERICAL_D_PER_MM2: Final = -0.05
"""How the refraction of an eye at rest changes with the square of the distance from the pupil's middle: the margin is
the more myopic. Of all higher aberrations only this one has a mean that is not nearly zero (Thibos, Hong, Bradley and
Cheng, J Opt Soc Am A 2002;19:2329-48, abstract); the size, about 0.1 micrometre at 6 mm, is from memory."""
CENTRE_MM2: Final = 2.0
"""Square of the distance from the middle where the refraction is the eye's: what fits the middle 3.5 mm best. Teaching
goes by the middle 3 to 4 mm (from memory)."""
VEIL: Final = 0.02
"""Light that the fundus and the media scatter over the whole pupil; our own choice, no source."""
DULL_VEIL: Final = 0.1
"""More of it, for media that let nothing through straight; our own choice, no source."""
_POINTS: Final = 6000
_BINS: Final = 128
_GOLDEN_RAD: Final = math.pi * (3.0 - math.sqrt(5.0))


@dataclass(frozen=True, slots=True)
class Aberration:
    """What a sphere and a cylinder leave. All zero: a perfect eye.

    spherical_d_per_mm2  the refraction's change with the square of the distance from the middle
    coma_d_per_mm        the refraction's change across the pupil, along the sweep
    """

    spherical_d_per_mm2: float = 0.0
    coma_d_per_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class PupilLight:
    """All that is needed to draw a pupil at any moment of a sweep.

    along_d, torsion_d  distance from neutral along the sweep, and its torsion, dioptres
    travel_d            how far the lit line goes for a beam that moves 1 mm, milliradians: W - S
    start_mrad, step_mrad, profile  brightness of the lit line across, at equal steps; 1 in the middle at neutral
    veil                light all over the pupil, of the same measure
    """

    streak_deg: float
    pupil_mm: float
    along_d: float
    torsion_d: float
    aberration: Aberration
    travel_d: float
    start_mrad: float
    step_mrad: float
    profile: tuple[float, ...]
    veil: float

    def field_mrad(self, x_mm: Numbers, y_mm: Numbers) -> Numbers:
        """Where on the retina, across the lit line, each pupil point looks; x to the right, y up, as it is seen.

        The sweep's positive end is 90 degrees clockwise from the streak: to the right, for an upright one.
        """
        meridian = math.radians(self.streak_deg - 90.0)
        along = x_mm * math.cos(meridian) + y_mm * math.sin(meridian)
        beside = y_mm * math.cos(meridian) - x_mm * math.sin(meridian)
        return _lacking(along, beside, self.along_d, self.torsion_d, self.aberration)

    def seen(self, beam_mm: float, field_mrad: Numbers) -> Numbers:
        """Brightness of pupil points with that field when the streak is `beam_mm` along its sweep."""
        places = field_mrad - beam_mm * self.travel_d
        steps = self.start_mrad + self.step_mrad * np.arange(len(self.profile))
        return self.veil + np.interp(places, steps, self.profile, left=0.0, right=0.0)


def light(
    needed: PowerVector,
    streak_deg: float,
    scope: Retinoscope,
    *,
    pupil_mm: float = PUPIL_MM,
    clarity: float = 1.0,
    aberration: Aberration | None = None,
) -> PupilLight:
    """The light in a pupil whose eye still needs `needed`; arguments as for `reflex`.

    Raises NotFiniteError, AxisError.
    """
    flaw = aberration or Aberration()
    error = needed + PowerVector(scope.vergence_d, 0.0, 0.0)
    meridian = streak_to_meridian_deg(streak_deg)
    along, torsion = components(error, meridian)
    start, step, profile = _profile(along, torsion, scope, pupil_mm, flaw)
    _, _, neutral = _neutral_profile(scope, pupil_mm)
    return PupilLight(
        streak_deg,
        pupil_mm,
        along,
        torsion,
        flaw,
        scope.vergence_d - scope.source_d,
        start,
        step,
        tuple((clarity * profile / neutral.max()).tolist()),
        VEIL * clarity + DULL_VEIL * (1.0 - clarity),
    )


def _lacking(along: Numbers, beside: Numbers, along_d: float, torsion_d: float, flaw: Aberration) -> Numbers:
    """n'T at points of the pupil: sphere and cylinder, then the aberrations, milliradians."""
    radius2 = along**2 + beside**2
    found: Numbers = along_d * along + torsion_d * beside
    found = found + flaw.spherical_d_per_mm2 * (radius2 - CENTRE_MM2) * along
    # The slope of a wavefront (c/6) r^2 s along s: c s^2/2 on the axis of the coma.
    return found + flaw.coma_d_per_mm / 6.0 * (3.0 * along**2 + beside**2)


@lru_cache(maxsize=64)
def _neutral_profile(scope: Retinoscope, pupil_mm: float) -> tuple[float, float, Numbers]:
    return _profile(0.0, 0.0, scope, pupil_mm, Aberration())


def _profile(
    along_d: float, torsion_d: float, scope: Retinoscope, pupil_mm: float, flaw: Aberration
) -> tuple[float, float, Numbers]:
    """First place, step and brightness of the lit line across; its integral is 1."""
    along, beside = _pupil_points(pupil_mm / 2.0)
    less = scope.vergence_d - scope.source_d
    places = _lacking(along, beside, along_d - less, torsion_d, flaw)
    peephole = 2.0 * PEEPHOLE_RADIUS_MM * scope.vergence_d
    margin = (STREAK_MRAD + peephole) / 2.0
    lowest, highest = float(places.min()) - margin, float(places.max()) + margin
    step = (highest - lowest) / (_BINS - 4)
    start = lowest - 2.0 * step
    at = (places - start) / step
    left = np.floor(at).astype(int)
    share = at - left
    lit = np.bincount(left, 1.0 - share, _BINS) + np.bincount(left + 1, share, _BINS)
    for kernel in (_box(STREAK_MRAD, step), _half_ellipse(peephole, step)):
        lit = np.convolve(lit, kernel, "same")
    return start, step, lit / (lit.sum() * step)


@lru_cache(maxsize=16)
def _pupil_points(radius_mm: float) -> tuple[Numbers, Numbers]:
    """Points spread evenly over a disc: a sunflower's seeds."""
    number = np.arange(_POINTS)
    radius = radius_mm * np.sqrt((number + 0.5) / _POINTS)
    return radius * np.cos(number * _GOLDEN_RAD), radius * np.sin(number * _GOLDEN_RAD)


def _box(width: float, step: float) -> Numbers:
    return _sampled(lambda at: np.clip((width / 2.0 - np.abs(at)) / step + 0.5, 0.0, 1.0), width, step)


def _half_ellipse(width: float, step: float) -> Numbers:
    return _sampled(lambda at: np.sqrt(np.clip(1.0 - (2.0 * at / width) ** 2, 0.0, None)), width, step)


def _sampled(shape: Callable[[Numbers], Numbers], width: float, step: float) -> Numbers:
    half = math.ceil(width / 2.0 / step + 0.5)
    values = shape(step * np.arange(-half, half + 1.0))
    weights: Numbers = values / values.sum()
    return weights
