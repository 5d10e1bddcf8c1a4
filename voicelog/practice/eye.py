"""The simulated eye: a refraction, what unsettles it, and what it answers when it is looked at."""

import math
import re
from dataclasses import dataclass, replace
from random import Random
from typing import Final, Literal

from voicelog.optics import OpticsError, PowerVector, SpheroCylinder, normalise_axis_deg
from voicelog.practice.accommodation import LEVELS, NearLook, near_pupil_mm, near_response_d
from voicelog.practice.errors import PracticeError
from voicelog.practice.light import SPHERICAL_D_PER_MM2, Aberration, PupilLight, light
from voicelog.practice.reflex import PUPIL_MM, Reflex, Retinoscope, reflex

Look = Literal["plain", "dull", "scissors"]
LOOKS: Final[tuple[Look, ...]] = ("plain", "dull", "scissors")

# Our own choice, no source.
DULL_CLARITY: Final = 0.3
SCISSORS_COMA_D_PER_MM: Final = 0.4
STEADINESS: Final = 0.7
"""How much of one look's accommodation is left at the next."""
LARGEST_TREMOR_D: Final = 1.0

# Range of random eyes; our own choice, no source. Uniform, so that rare eyes are met as often as common ones.
SPHERES_D: Final = (-8.0, 6.0)
LARGEST_CYLINDER_D: Final = 4.0

_REFRACTION = re.compile(
    r"(?P<sphere>plano|pl|[+-]?\d*\.?\d+)(?:\s*ds)?"
    r"(?:\s*[/ ]\s*(?P<cylinder>[+-]?\d*\.?\d+)\s*(?:x|axis)\s*(?P<axis>\d+))?",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class EyeModel:
    """What an eye is like.

    tremor_d     standard deviation of the accommodation's wavering about its mean, dioptres (0.1 to 0.5 D peak to peak
                 in the literature on microfluctuations, from memory)
    noise_d      standard deviation of the observer's judgement of how far from neutral it is, dioptres: it matters
                 near neutral only, where it turns the motion over or hides it
    angle_noise_deg  standard deviation of the observer's judgement of the band's direction
    child        looks at the light now and then, and focuses on it; every look's `reflex` is that of the eye at rest
    """

    refraction: SpheroCylinder
    look: Look = "plain"
    tremor_d: float = 0.0
    noise_d: float = 0.0
    angle_noise_deg: float = 0.0
    pupil_mm: float = PUPIL_MM
    child: bool = False

    def __post_init__(self) -> None:
        for name in ("tremor_d", "noise_d"):
            if not 0.0 <= getattr(self, name) <= LARGEST_TREMOR_D:
                raise PracticeError(
                    f"{name} is {getattr(self, name):g}; allowed is 0 to {LARGEST_TREMOR_D:g} D"
                )
        if not 0.0 <= self.angle_noise_deg <= 45.0:
            raise PracticeError(f"angle_noise_deg is {self.angle_noise_deg:g}; allowed is 0 to 45 degrees")

    @property
    def clarity(self) -> float:
        """Share of the light that the media let through."""
        return DULL_CLARITY if self.look == "dull" else 1.0

    @property
    def coma_d_per_mm(self) -> float:
        """How the refractive error changes across the pupil: scissors."""
        return SCISSORS_COMA_D_PER_MM if self.look == "scissors" else 0.0


@dataclass(frozen=True, slots=True)
class Glimpse:
    """One look: lenses before the eye without the working lens, streak in degrees, and what was seen.

    `lights`: what a drawing of it needs, of the eye at rest first, then of ever more accommodation (`near` says when);
    empty where nobody draws it.
    """

    lenses: SpheroCylinder
    streak_deg: float
    reflex: Reflex
    lights: tuple[PupilLight, ...] = ()
    near: NearLook | None = None


class SimulatedEye:
    """Answers looks, one after the other; the same seed and the same looks give the same answers."""

    def __init__(self, model: EyeModel, seed: int) -> None:
        self.model = model
        self._random = Random(f"eye {seed}")
        self._accommodation_d = self._random.gauss(0.0, model.tremor_d)
        self._needed = model.refraction.vector

    def look(self, lenses: PowerVector, streak_deg: float, scope: Retinoscope) -> Reflex:
        """The reflex through `lenses` (everything before the eye, a working lens too; dioptres).

        Raises NotFiniteError, AxisError.
        """
        model = self.model
        self._waver()
        unsettled = self._accommodation_d + self._random.gauss(0.0, model.noise_d)
        self._needed = model.refraction.vector - lenses - PowerVector(unsettled, 0.0, 0.0)
        seen = reflex(
            self._needed,
            streak_deg,
            scope,
            pupil_mm=model.pupil_mm,
            clarity=model.clarity,
            coma_d_per_mm=model.coma_d_per_mm,
        )
        if seen.band_deg is None:
            return seen
        turn_deg = self._random.gauss(0.0, model.angle_noise_deg)
        return replace(seen, band_deg=normalise_axis_deg(seen.band_deg + turn_deg))

    def glimpse(
        self, lenses: SpheroCylinder, before: PowerVector, streak_deg: float, scope: Retinoscope
    ) -> Glimpse:
        """A look with all that a drawing needs: `lenses` as they are named, `before` all that acts, as for `look`.

        Raises NotFiniteError, AxisError.
        """
        seen = self.look(before, streak_deg, scope)
        near_d = near_response_d(self._needed.m_d + scope.vergence_d) if self.model.child else 0.0
        if not near_d:
            return Glimpse(lenses, streak_deg, seen, (self._light(streak_deg, scope, 0.0),))
        steps = (near_d * level / (LEVELS - 1) for level in range(LEVELS))
        lights = tuple(self._light(streak_deg, scope, step) for step in steps)
        return Glimpse(lenses, streak_deg, seen, lights, NearLook())

    def _light(self, streak_deg: float, scope: Retinoscope, accommodation_d: float) -> PupilLight:
        """The pupil of the last look, point by point."""
        model = self.model
        return light(
            self._needed - PowerVector(accommodation_d, 0.0, 0.0),
            streak_deg,
            scope,
            pupil_mm=near_pupil_mm(model.pupil_mm, accommodation_d),
            clarity=model.clarity,
            aberration=Aberration(SPHERICAL_D_PER_MM2, model.coma_d_per_mm),
        )

    def _waver(self) -> None:
        """One step of a stationary first-order autoregression: its standard deviation stays `tremor_d`."""
        fresh = math.sqrt(1.0 - STEADINESS**2) * self._random.gauss(0.0, self.model.tremor_d)
        self._accommodation_d = STEADINESS * self._accommodation_d + fresh


def random_refraction(seed: int) -> SpheroCylinder:
    """A refraction in no particular step, minus cylinder form; one eye in eight has no cylinder."""
    random = Random(f"refraction {seed}")
    sphere = random.uniform(*SPHERES_D)
    if random.random() < 0.125:
        return SpheroCylinder(sphere)
    return SpheroCylinder(
        sphere, -random.uniform(0.25, LARGEST_CYLINDER_D), normalise_axis_deg(random.uniform(0.0, 180.0))
    )


def parse_refraction(text: str) -> SpheroCylinder:
    """A refraction as it is written: "+1.25 -1.75 x 90", "-2.00", "plano -0.50 x 180".

    Raises PracticeError with what was expected.
    """
    match = _REFRACTION.fullmatch(text.strip())
    if match is None:
        raise PracticeError(f'{text!r} is no refraction; write it as "+1.25 -1.75 x 90"')
    sphere = 0.0 if match["sphere"][0] in "pP" else float(match["sphere"])
    axis = None if match["axis"] is None else float(match["axis"]) or 180.0
    try:
        return SpheroCylinder(sphere, float(match["cylinder"] or 0.0), axis).minus_cylinder()
    except OpticsError as error:
        raise PracticeError(f"{text!r} is no refraction: {error}") from None
