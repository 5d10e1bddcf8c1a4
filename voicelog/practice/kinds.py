"""Graded exercises: kinds of eye, from easy to hard, each with a goal in lenses and minutes."""

from collections.abc import Callable
from dataclasses import dataclass
from random import Random
from typing import Final

from voicelog.optics import SpheroCylinder, normalise_axis_deg
from voicelog.practice.errors import PracticeError
from voicelog.practice.eye import EyeModel, Look
from voicelog.practice.pupil import pupil_mm_at
from voicelog.practice.reflex import PUPIL_MM

CHILD_AGE_YEARS: Final = 7.0
_QUARTER: Final = 0.25


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of eye. The goals are our own choice, no source: tests hold that they can be reached.

    goal_lenses   lenses looked through, both meridians together
    goal_minutes  from the beginning to "done"
    """

    name: str
    title: str
    goal_lenses: int
    goal_minutes: float
    draw: Callable[[Random], SpheroCylinder]
    look: Look = "plain"
    child: bool = False

    def model(self, seed: int, *, tremor_d: float = 0.0, noise_d: float = 0.0) -> EyeModel:
        """An eye of this kind; the same seed gives the same eye. Raises PracticeError."""
        return EyeModel(
            self.draw(Random(f"{self.name} {seed}")),
            look=self.look,
            child=self.child,
            pupil_mm=pupil_mm_at(CHILD_AGE_YEARS) if self.child else PUPIL_MM,
            tremor_d=tremor_d,
            noise_d=noise_d,
        )


def _eye(
    spheres_d: tuple[float, float], cylinders_d: tuple[float, float], *axes_deg: tuple[int, int]
) -> Callable[[Random], SpheroCylinder]:
    """Draws a minus-cylinder form in quarter steps, the axis evenly from one of the ranges."""

    def draw(random: Random) -> SpheroCylinder:
        sphere = _quarters(random, *spheres_d)
        cylinder = _quarters(random, *cylinders_d)
        axis = normalise_axis_deg(random.randint(*random.choice(axes_deg)))
        return SpheroCylinder(sphere, cylinder, axis if cylinder else None)

    return draw


def _high(random: Random) -> SpheroCylinder:
    """Far from plano on either side."""
    spheres_d = random.choice(((-9.0, -6.0), (5.0, 8.0)))
    return _eye(spheres_d, (-1.5, 0.0), (1, 180))(random)


def _quarters(random: Random, low_d: float, high_d: float) -> float:
    return random.randint(round(low_d / _QUARTER), round(high_d / _QUARTER)) * _QUARTER


_ANY: Final = (1, 180)
# "With the rule": the minus cylinder's axis lies near 180. Ten degrees either way is so by every usual definition.
_WITH: Final = (170, 190)
_AGAINST: Final = (80, 100)
_OBLIQUE: Final = ((35, 55), (125, 145))

KINDS: Final = (
    Kind("spheres", "spheres alone", 10, 4.0, _eye((-4.0, 4.0), (0.0, 0.0), _ANY)),
    Kind("with-the-rule", "with the rule", 12, 5.0, _eye((-3.0, 3.0), (-2.5, -1.0), _WITH)),
    Kind("against-the-rule", "against the rule", 12, 5.0, _eye((-3.0, 3.0), (-2.5, -1.0), _AGAINST)),
    Kind("oblique", "oblique axes", 14, 6.0, _eye((-3.0, 3.0), (-3.0, -1.0), *_OBLIQUE)),
    Kind("small-cylinder", "small cylinders", 14, 6.0, _eye((-3.0, 3.0), (-0.75, -0.5), _ANY)),
    Kind("high", "high powers", 16, 7.0, _high),
    Kind("scissors", "a scissors reflex", 14, 7.0, _eye((-3.0, 3.0), (-2.0, 0.0), _ANY), look="scissors"),
    Kind("child", "a child who looks at the light", 14, 7.0, _eye((0.0, 4.0), (-1.5, 0.0), _ANY), child=True),
)
"""From easy to hard."""

NAMES: Final = tuple(kind.name for kind in KINDS)


def kind_named(name: str) -> Kind:
    """The kind of this name. Raises PracticeError."""
    for kind in KINDS:
        if kind.name == name:
            return kind
    raise PracticeError(f"{name} is no kind of exercise; there are {', '.join(NAMES)}")
