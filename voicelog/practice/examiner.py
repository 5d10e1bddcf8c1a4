"""A scripted examiner: finds axis and neutral lenses by what the eye answers and nothing else, in the log's phrases.

The way is the teaching's (AAO Basic and Clinical Science Course, Clinical Optics, retinoscopy chapter): work from
"with" motion, lay the streak along the band, neutralise one meridian and then the other, take the most plus lens of a
neutral range. Minus-cylinder workers begin with the more plus meridian, plus-cylinder workers with the other.
"""

from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from random import Random
from typing import Final

from voicelog.optics import (
    COMMON_LENS_SET,
    Form,
    PowerVector,
    SpheroCylinder,
    WorkingDistance,
    axis_difference_deg,
    next_lens_to_try,
    normalise_axis_deg,
    perpendicular_deg,
    streak_to_meridian_deg,
    written_power,
)
from voicelog.optics.belief import Enough, NextLook
from voicelog.phrases.language import Language
from voicelog.phrases.meanings import Naming
from voicelog.practice.errors import PracticeError
from voicelog.practice.exercise import Technique
from voicelog.practice.eye import Glimpse, SimulatedEye
from voicelog.practice.phrasing import said
from voicelog.practice.reflex import Reflex, Retinoscope, SeenMotion

_STEP_D: Final = 0.25
_LARGEST_D: Final = 20.0
_STRIDE_D: Final = 5.0  # a reflex that stands still is far from neutral: try a large lens (common practice)
_DIRECTIONS_DEG: Final = (180.0, 90.0, 45.0, 135.0)
# Our own choice, no source.
_SMALLEST_SKEW_DEG: Final = 1.0
_MOST_TURNS: Final = 12
_MOST_ADVISED: Final = 60
_TECHNIQUE_WORDS: Final = {"sphere-cylinder": "sphere and cylinder", "cylinders": "two cylinders"}
_GLANCES: Final = 3
"""Looks at one lens; what is seen most often counts."""


@dataclass(frozen=True, slots=True)
class Plan:
    """How the examiner works. `lens_in`: the working-distance lens stands before the eye and is counted apart."""

    technique: Technique
    naming: Naming
    form: Form = "minus"
    distance_cm: float = 67.0
    lens_in: bool = False

    @property
    def working_lens_d(self) -> float:
        """The working lens before the eye, dioptres: the nearest of a usual set, or none."""
        return WorkingDistance(self.distance_cm / 100.0).nominal_allowance_d if self.lens_in else 0.0


class Examiner:
    """Examines one eye; every look is told to `on_look`, every line is given by `lines`.

    `language`: whose words the lines are said in; None leaves them as they are written. `advice`: what the log answers
    to "which lens next"; with it every look is asked for and told, else the examiner brackets and tells neutral lenses.
    `draws`: looks hold what a moving picture needs.
    """

    def __init__(
        self,
        eye: SimulatedEye,
        plan: Plan,
        *,
        seed: int = 0,
        eye_name: str = "right",
        language: Language | None = None,
        on_look: Callable[[Glimpse], None] = lambda glimpse: None,
        advice: Callable[[], NextLook | Enough] | None = None,
        draws: bool = False,
    ) -> None:
        self.plan = plan
        self._eye, self._eye_name = eye, eye_name
        self._random = Random(f"examiner {seed}")
        self._language = language
        self._scope = Retinoscope(plan.distance_cm / 100.0)
        self._on_look = on_look
        self._advice = advice
        self._draws = draws

    def lines(self) -> Iterator[str]:
        """The lines of the exam, in the order in which they are said. Raises PracticeError when nothing is found."""
        yield self._say(f"i name the {self.plan.naming}")
        yield self._say(f"{self._eye_name} eye")
        yield self._say(f"working distance {self.plan.distance_cm:g}")
        if self.plan.lens_in:
            yield self._say("working lens in")
        more_plus = self._streak_of_more_plus()
        if self._advice is not None:
            yield from self._advised(self._advice, more_plus)
            return
        less_plus = perpendicular_deg(more_plus)
        streaks = (more_plus, less_plus) if self.plan.form == "minus" else (less_plus, more_plus)
        if self.plan.technique == "sphere-cylinder":
            yield from self._sphere_then_cylinder(*streaks)
            return
        for streak in streaks:
            if self.plan.technique == "spheres":
                power = self._neutral_d(_sphere, streak)
                yield self._reading(streak, f"at {written_power(power)}")
            else:
                power = self._neutral_d(partial(_cylinder, 0.0, streak), streak)
                yield self._reading(streak, self._cylinder(power, streak))

    def _advised(self, advice: Callable[[], NextLook | Enough], band: float) -> Iterator[str]:
        """Every look as the log advises it, from a streak along the band on; at the end the lenses to call neutral.

        What tells enough of the power may have been no neutral lens: the plain result is made of those.
        """
        if self.plan.technique != "spheres":
            yield self._say(f"technique {_TECHNIQUE_WORDS[self.plan.technique]}")
        seen: dict[float, dict[SeenMotion, list[float]]] = {}
        for _ in range(_MOST_ADVISED):
            yield self._say("which lens next")
            told = advice()
            if isinstance(told, Enough):
                break
            # Before the first look no band is known to the log.
            streak = told.streak_deg if seen else band
            lens = told.lens if seen else SpheroCylinder(0.0)
            motion = self._motion(partial(_stronger, lens), 0.0, streak)
            power = lens.vector.power_along_d(streak_to_meridian_deg(streak))
            seen.setdefault(streak, {}).setdefault(motion, []).append(power)
            yield self._reading(streak, f"with {_written(lens)}" if lens.axis_deg else _at(lens), motion)
        for streak, motions in seen.items():
            if "neutral" not in motions:
                lower, upper = (
                    max(motions.get("with", []), default=None),
                    min(motions.get("against", []), default=None),
                )
                yield self._reading(streak, _at(_sphere(self._faster(_sphere, lower, upper, streak))))

    def _sphere_then_cylinder(self, first: float, second: float) -> Iterator[str]:
        sphere = self._neutral_d(_sphere, first)
        yield self._reading(first, f"with sphere {written_power(sphere)}")
        cylinder = self._neutral_d(partial(_cylinder, sphere, second), second)
        yield self._reading(second, self._cylinder(cylinder, second))

    def _cylinder(self, power_d: float, streak_deg: float) -> str:
        if power_d:
            return f"with cylinder {written_power(power_d)} axis {streak_deg:g}"
        # Behind a sphere, the lenses in place are neutral here too; without one, no lens is.
        return "" if self.plan.technique == "sphere-cylinder" else "at plano"

    def _reading(self, streak_deg: float, lens: str, motion: SeenMotion = "neutral") -> str:
        names_streak = self.plan.naming == "streak"
        angle = streak_deg if names_streak else streak_to_meridian_deg(streak_deg)
        direction = {90.0: "vertical", 180.0: "horizontal"}.get(angle, f"{angle:g}")
        # Bare, a place is a number that is not said digit by digit; and now and then everybody says the word.
        sayable = not direction.isdigit() or (angle >= 10 and not 100 < angle < 110)
        named = not sayable or self._random.random() < 0.3
        place = f"{self.plan.naming} {direction}" if named else direction
        seen = motion if motion == "neutral" else f"{motion} motion"
        return self._say(f"{place} {seen} {lens}".strip())

    def _say(self, line: str) -> str:
        return line if self._language is None else said(line, self._random, self._language)

    def _streak_of_more_plus(self) -> float:
        """The streak, in whole degrees, whose meridian needs the more plus lens: with motion first, then the band.

        Laying the streak along the band again and again is power iteration on the matrix of the distances from
        neutral, so the streak ends in the meridian that is furthest from neutral.
        """
        sphere = self._all_with_d()
        streak = max(_DIRECTIONS_DEG, key=lambda direction: -self._glance(_sphere(sphere), direction).speed)
        for _ in range(_MOST_TURNS):
            band = self._glance(_sphere(sphere), streak).band_deg
            turn = 0.0 if band is None else axis_difference_deg(band, streak)
            if abs(turn) < _SMALLEST_SKEW_DEG:
                break
            streak = normalise_axis_deg(round(streak + turn))
        return streak

    def _all_with_d(self) -> float:
        """The most plus sphere, in whole dioptres, that leaves with motion in four directions."""
        sphere = 0.0
        while not self._is_with_everywhere(sphere):
            sphere = self._next(sphere, -1.0)
        while self._is_with_everywhere(self._next(sphere, 1.0)):
            sphere = self._next(sphere, 1.0)
        return sphere

    def _next(self, sphere: float, change: float) -> float:
        if abs(sphere + change) > _LARGEST_D:
            raise PracticeError(f"no sphere up to {_LARGEST_D:g} D shows a reflex that can be worked with")
        return sphere + change

    def _is_with_everywhere(self, sphere: float) -> bool:
        return all(self._motion(_sphere, sphere, direction) == "with" for direction in _DIRECTIONS_DEG)

    def _motion(self, lens: Callable[[float], SpheroCylinder], power: float, streak: float) -> SeenMotion:
        """The motion; where it stands still, what large lenses of either sign show it to be."""
        seen = self._majority(lens(power), streak)
        stride = _STRIDE_D
        while seen == "still":
            if stride > 2.0 * _LARGEST_D:
                raise PracticeError("the reflex stands still whatever lens is before the eye")
            more = self._majority(lens(power + stride), streak)
            less = self._majority(lens(power - stride), streak)
            if more in ("with", "neutral") or less == "with":
                seen = "with"
            elif less in ("against", "neutral") or more == "against":
                seen = "against"
            stride += _STRIDE_D
        return seen

    def _neutral_d(self, lens: Callable[[float], SpheroCylinder], streak: float) -> float:
        """The power that makes a meridian neutral, quarter steps: by halving, the most plus of a neutral range."""
        lower: float | None = None
        upper: float | None = None
        while (power := next_lens_to_try(lower, upper, COMMON_LENS_SET)) is not None:
            motion = self._motion(lens, power, streak)
            if motion == "neutral":
                return self._most_plus(lens, power, streak)
            lower, upper = (power, upper) if motion == "with" else (lower, power)
        return self._faster(lens, lower, upper, streak)

    def _most_plus(self, lens: Callable[[float], SpheroCylinder], power: float, streak: float) -> float:
        while self._motion(lens, power + _STEP_D, streak) == "neutral":
            power += _STEP_D
        return power

    def _faster(
        self, lens: Callable[[float], SpheroCylinder], lower: float | None, upper: float | None, streak: float
    ) -> float:
        """Neutral lies between two lenses of the set: the one with the faster reflex is nearer to it."""
        known = [power for power in (lower, upper) if power is not None]
        if not known:
            raise PracticeError("no lens is neutral")
        return max(known, key=lambda power: (self._glance(lens(power), streak).speed, power))

    def _majority(self, lens: SpheroCylinder, streak: float) -> SeenMotion:
        seen = Counter(self._glance(lens, streak).motion for _ in range(_GLANCES))
        return seen.most_common(1)[0][0]

    def _glance(self, lens: SpheroCylinder, streak_deg: float) -> Reflex:
        before = lens.vector + PowerVector(self.plan.working_lens_d, 0.0, 0.0)
        if self._draws:
            glimpse = self._eye.glimpse(lens, before, streak_deg, self._scope)
        else:
            glimpse = Glimpse(lens, streak_deg, self._eye.look(before, streak_deg, self._scope))
        self._on_look(glimpse)
        return glimpse.reflex


def _sphere(power_d: float) -> SpheroCylinder:
    return SpheroCylinder(power_d)


def _cylinder(sphere_d: float, axis_deg: float, power_d: float) -> SpheroCylinder:
    return SpheroCylinder(sphere_d, power_d, axis_deg)


def _stronger(lens: SpheroCylinder, more_d: float) -> SpheroCylinder:
    return SpheroCylinder(lens.sphere_d + more_d, lens.cylinder_d, lens.axis_deg)


def _at(lens: SpheroCylinder) -> str:
    return f"at {written_power(lens.sphere_d)}"


def _written(lens: SpheroCylinder) -> str:
    """ "sphere +1.00 cylinder -0.50 axis 90"."""
    sphere = f"sphere {written_power(lens.sphere_d)} " if lens.sphere_d else ""
    return f"{sphere}cylinder {written_power(lens.cylinder_d)} axis {lens.axis_deg:g}"
