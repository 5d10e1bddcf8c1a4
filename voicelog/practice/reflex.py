"""What a streak retinoscope shows in a pupil, from geometric optics. Pure numbers; optics only.

Derivation (ours, thin lenses and small angles; no printed formula was copied). The retinoscope is at the distance d
before the lens plane, W = 1/d. Let K be the lens that the eye still needs with the trial lenses before it, as a power
matrix, and E = K + W the distance from neutral. A ray that leaves a pupil point y and reaches the peephole at its
point h left the retina at the visual angle E y - W h (the angle at which the eye, wearing K, would see that point).
So through the middle of the peephole the pupil shows the retina magnified by the inverse of E: a retinal line with
normal n is seen as a band with normal E n.

The light comes from a line source that appears at the distance 1/S before the lens plane (S < W: behind the mirror, a
divergent beam; S > W: between mirror and eye, a convergent one). When the beam on the face moves by b, the source
appears moved the other way by b (W - S)/S, so the lit retinal line moves by b (W - S). Hence, for a sweep along n with
the refractive error e = n'E n in the swept meridian and its torsion t = u'E n (u at right angles to n):

    speed of the reflex / speed of the streak = (W - S) / e        with where positive, against where negative
    turn of the band from the streak          = atan(t / e)        skew and break; none in a principal meridian
    width of the band                         = (source + 2 a W + P |K n + S n|) / |E n|

with the source's angular width, the peephole's radius a and the pupil's diameter P: the lit line is blurred by the
eye's defocus for the source, and the view by the peephole. The retina's luminance goes with the inverse of the same
sum. What teaching says comes out: faster, wider and brighter towards neutral; narrowness tells only with "with"
motion; "against" is dimmer (AAO Basic and Clinical Science Course, Clinical Optics, retinoscopy chapter).
"""

import math
from dataclasses import dataclass
from typing import Final, Literal

from voicelog.optics import (
    PowerVector,
    WorkingDistance,
    normalise_axis_deg,
    streak_to_meridian_deg,
)
from voicelog.optics.reflex_speed import FASTEST_SEEN, SLOWEST_SEEN, source_vergence_d

SeenMotion = Literal["with", "against", "neutral", "still"]

# Our own choice, no source: a plausible instrument and a pupil in a dim room.
STREAK_MRAD: Final = 1.0
PEEPHOLE_RADIUS_MM: Final = 0.5
PUPIL_MM: Final = 4.0


@dataclass(frozen=True, slots=True)
class Retinoscope:
    """The instrument where it is held.

    distance_m      from the lens plane, metres; raises DistanceError when it cannot be
    concave_mirror  a convergent beam, whose focus lies half-way to the eye (our own choice)
    sleeve_d        S where the sleeve stands in between, dioptres; below 0 the beam meets behind the lens plane
    """

    distance_m: float
    concave_mirror: bool = False
    sleeve_d: float | None = None

    def __post_init__(self) -> None:
        WorkingDistance(self.distance_m)

    @property
    def vergence_d(self) -> float:
        """W = 1/d, dioptres."""
        return 1.0 / self.distance_m

    @property
    def source_d(self) -> float:
        """S, inverse of the apparent distance of the source from the lens plane, dioptres."""
        if self.sleeve_d is not None:
            return self.sleeve_d
        return source_vergence_d(self.vergence_d, concave_mirror=self.concave_mirror)


@dataclass(frozen=True, slots=True)
class Reflex:
    """What is to be seen in one meridian.

    motion         of the reflex against the streak; "still": so slow that it seems not to move
    speed          reflex over streak, 0 or more; infinite at neutral
    band_deg       direction of the band, degrees in (0, 180]; None where none is made out (neutral, still)
    width_mm       of the band to where it ends, infinite at neutral; beyond `pupil_mm` it fills the pupil
    bright_mm      width between the places where it is half as bright as in its middle
    brightness     0 to 1, 1 as at neutral in clear media
    second_mm      where the second band of a scissors reflex stands when the first is in the middle; else None
    """

    motion: SeenMotion
    speed: float
    band_deg: float | None
    width_mm: float
    brightness: float
    pupil_mm: float = PUPIL_MM
    second_mm: float | None = None
    bright_mm: float = math.inf

    @property
    def fills_pupil(self) -> bool:
        """Whether the pupil is lit all over while the streak is in its middle."""
        return self.width_mm >= self.pupil_mm


def reflex(
    needed: PowerVector,
    streak_deg: float,
    scope: Retinoscope,
    *,
    pupil_mm: float = PUPIL_MM,
    clarity: float = 1.0,
    coma_d_per_mm: float = 0.0,
) -> Reflex:
    """The reflex with the streak at `streak_deg` (degrees, 1 to 180), swept at right angles to itself.

    `needed` is K: the eye's refraction less the lenses before it, dioptres. `clarity` (0 to 1) is the light that the
    media let through. `coma_d_per_mm` makes the refractive error change across the pupil: the retina is then seen at
    e y + c y^2/2, so every lit place is seen twice, and near neutral both bands stand in the pupil and move
    against each other: scissors. Raises NotFiniteError, AxisError.
    """
    error = needed + PowerVector(scope.vergence_d, 0.0, 0.0)
    along, torsion = components(error, streak_to_meridian_deg(streak_deg))
    size = math.hypot(along, torsion)
    blur_mrad = _blur_mrad(along, torsion, scope, pupil_mm)
    width = blur_mrad / size if size else math.inf
    speed = (scope.vergence_d - scope.source_d) / along if along else math.inf
    motion = _motion(speed)
    seen = motion in ("with", "against")
    skew_deg = math.degrees(math.atan(torsion / along)) if along else 0.0
    second = -2.0 * along / coma_d_per_mm if coma_d_per_mm else None
    return Reflex(
        motion,
        abs(speed),
        normalise_axis_deg(streak_deg + skew_deg) if seen else None,
        width,
        clarity * _brightness(blur_mrad, width, scope, pupil_mm),
        pupil_mm,
        second if second is not None and abs(second) < pupil_mm / 2.0 else None,
        _half_width_mrad(along, torsion, scope, pupil_mm) / size if size else math.inf,
    )


def error_along_d(needed: PowerVector, streak_deg: float, scope: Retinoscope) -> float:
    """Distance from neutral in the meridian that a streak examines: the lens that would make it neutral, dioptres."""
    return needed.power_along_d(streak_to_meridian_deg(streak_deg)) + scope.vergence_d


def components(error: PowerVector, meridian_deg: float) -> tuple[float, float]:
    """Power along a meridian, and its torsion: half the change of power for a turn counter-clockwise, per radian."""
    doubled = math.radians(2.0 * meridian_deg)
    torsion = error.j45_d * math.cos(doubled) - error.j0_d * math.sin(doubled)
    return error.power_along_d(meridian_deg), torsion


def _spreads_mrad(
    along: float, torsion: float, scope: Retinoscope, pupil_mm: float
) -> tuple[float, float, float]:
    """Visual angles over which source, peephole and defocus spread the line, milliradians (mm times D)."""
    defocus = math.hypot(along - scope.vergence_d + scope.source_d, torsion)
    return STREAK_MRAD, 2.0 * PEEPHOLE_RADIUS_MM * scope.vergence_d, pupil_mm * defocus


def _blur_mrad(along: float, torsion: float, scope: Retinoscope, pupil_mm: float) -> float:
    """Visual angle from end to end of the spread line, milliradians."""
    return sum(_spreads_mrad(along, torsion, scope, pupil_mm))


def _half_width_mrad(along: float, torsion: float, scope: Retinoscope, pupil_mm: float) -> float:
    """Width of the line at half its brightness, milliradians; the source is a box, the two others half-ellipses.

    At half of its height the widest of the three counts nearly alone: the root of the sum of fourth powers is within
    a seventh of the exact line of `light.py`.
    """
    source, peephole, defocus = _spreads_mrad(along, torsion, scope, pupil_mm)
    widths = (source, math.sqrt(0.75) * peephole, math.sqrt(0.75) * defocus)
    return math.sqrt(math.hypot(*(width**2 for width in widths)))


def _motion(speed: float) -> SeenMotion:
    if abs(speed) >= FASTEST_SEEN:
        return "neutral"
    if abs(speed) < SLOWEST_SEEN:
        return "still"
    return "with" if speed > 0.0 else "against"


def _brightness(blur_mrad: float, width_mm: float, scope: Retinoscope, pupil_mm: float) -> float:
    """Luminance times the lit share of the pupil, against the same at neutral; more is not told apart from it."""
    at_neutral = _blur_mrad(0.0, 0.0, scope, pupil_mm)
    return min(1.0, at_neutral / blur_mrad * min(1.0, width_mm / pupil_mm))
