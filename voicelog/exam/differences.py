"""Two refractions compared: how far they are apart, and which slip would explain it. Pure functions.

Differences are taken as power vectors (Thibos, Wheeler & Horner, Optom Vis Sci 1997;74:367-375). What scatter is usual
and how near a slip must bring them are data with their sources (guidance.toml). A slip is only ever asked about.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from voicelog.exam.guidance import limit
from voicelog.optics import (
    Difference,
    PowerVector,
    Problem,
    SpheroCylinder,
    allowance_slip,
    difference,
    written_power,
)

_NO_DIFFERENCE_D = 0.005  # what is written with two decimals as nothing
_TURNED = Problem("axis_turned", "cylinder axis turned by 90: was the other naming habit meant?")


@dataclass(frozen=True, slots=True)
class Comparison:
    """`first` against `second`, each with its name; `eye` is "right", "left", or None for right against left.

    `usual` says whether the difference is no more than the usual scatter of retinoscopy; None where that is no
    yardstick (one eye against the other). `questions` are slips that would explain the difference.
    """

    eye: Literal["right", "left"] | None
    first_name: str
    second_name: str
    first: SpheroCylinder
    second: SpheroCylinder
    apart: Difference
    usual: bool | None
    questions: tuple[Problem, ...] = ()

    @property
    def text(self) -> str:
        """The comparison in one line, with its questions."""
        subject = f"{self.eye} eye: " if self.eye else ""
        verdict = "" if self.usual is None else f"; {scatter_words(self.usual)}"
        asked = "".join(f"; {each.text}" for each in self.questions)
        return (
            f"{subject}{self.first_name} {self.first} and {self.second_name} {self.second}: "
            f"{in_words(self.apart)}{verdict}{asked}"
        )


def compare(
    first: SpheroCylinder,
    second: SpheroCylinder,
    names: tuple[str, str],
    *,
    eye: Literal["right", "left"] | None,
    allowance_d: float | None = None,
) -> Comparison:
    """One eye's refraction against another of the same eye.

    `allowance_d` is that of the working distance of `first`, dioptres; with None no slip of it is looked for.
    """
    apart = difference(first, second)
    usual = apart.blur_strength_d <= limit("usual_difference_d")
    questions = () if usual else tuple(slips(first, second, allowance_d))
    return Comparison(eye, *names, first, second, apart, usual, questions)


def compare_eyes(right: SpheroCylinder, left: SpheroCylinder, name: str) -> Comparison:
    """The right eye against the left by one method."""
    names = (f"right eye's {name}", f"left eye's {name}")
    return Comparison(None, *names, right, left, difference(right, left), None)


def in_words(apart: Difference) -> str:
    """ "no difference", or the difference's length, spherical equivalent and astigmatism."""
    if apart.blur_strength_d < _NO_DIFFERENCE_D:
        return "no difference"
    equivalent = written_power(round(apart.vector.m_d, 2))
    shown = "0.00" if equivalent == "plano" else equivalent
    return (
        f"{apart.blur_strength_d:.2f} D apart; spherical equivalent by {shown}, "
        f"cylinder by {2 * apart.vector.astigmatism_d:.2f}, one meridian by up to {apart.largest_power_d:.2f}"
    )


def scatter_words(usual: bool) -> str:
    """Whether a difference is no more than retinoscopy's own scatter, in words."""
    return f"this is {'within' if usual else 'more than'} the usual scatter"


def slips(first: SpheroCylinder, second: SpheroCylinder, allowance_d: float | None = None) -> list[Problem]:
    """The slips in `first` that would explain its difference from `second`, the best explanation first.

    Where nothing explains all of it, an axis turned by 90 may still explain the astigmatism. Codes: "axis_turned",
    "allowance_forgotten", "allowance_taken_twice", "signs_exchanged".
    """
    before_d = difference(first, second).blur_strength_d
    most_d = min(limit("slip_difference_d"), limit("slip_share") * before_d)
    found = [
        ((vector - second.vector).blur_strength_d, problem)
        for vector, problem in _explanations(first, second, allowance_d)
    ]
    fitting = sorted((each for each in found if each[0] <= most_d), key=lambda each: each[0])
    if not fitting:
        return [_TURNED] if _turned_alone(first, second) else []
    return list({problem.code: problem for _, problem in fitting}.values())


def swapped_eyes(
    first: tuple[SpheroCylinder, SpheroCylinder],
    second: tuple[SpheroCylinder, SpheroCylinder],
    second_name: str,
) -> Problem | None:
    """Whether (right, left) of `first` fit `second` much better the other way round: code "eyes_swapped"."""
    straight = [difference(*pair).blur_strength_d for pair in zip(first, second, strict=True)]
    crossed = [difference(*pair).blur_strength_d for pair in zip(first, reversed(second), strict=True)]
    usual = limit("usual_difference_d")
    if max(straight) <= usual or max(crossed) > usual:
        return None
    if sum(crossed) > limit("slip_share") * sum(straight):
        return None
    text = f"right and left look swapped against the {second_name}: were they exchanged?"
    return Problem("eyes_swapped", text)


def _explanations(
    first: SpheroCylinder, second: SpheroCylinder, allowance_d: float | None
) -> Iterator[tuple[PowerVector, Problem]]:
    """The refraction as it would be without each slip, and the question that goes with it."""
    yield _turned(first.vector), _TURNED
    if allowance_d is not None:
        yield from _allowance(first, second, allowance_d)
    sphere_d, cylinder_d = first.sphere_d, first.cylinder_d
    for what, other in _other_signs(sphere_d, cylinder_d, first.vector):
        yield other, _signs(what)
    if allowance_d:
        taken_off = PowerVector(allowance_d, 0.0, 0.0)
        for what, other in _other_signs(sphere_d + allowance_d, cylinder_d, first.vector + taken_off):
            yield other - taken_off, _signs(f"{what} in the frame")


def _turned(vector: PowerVector) -> PowerVector:
    """The lens with its axis turned by 90."""
    return PowerVector(vector.m_d, -vector.j0_d, -vector.j45_d)


def _turned_alone(first: SpheroCylinder, second: SpheroCylinder) -> bool:
    """Whether the turn explains the astigmatism; the spherical equivalent may have changed by itself."""
    before_d = (first.vector - second.vector).astigmatism_d
    after_d = (_turned(first.vector) - second.vector).astigmatism_d
    most_d = min(limit("slip_difference_d"), limit("slip_share") * before_d)
    return before_d > limit("usual_difference_d") and after_d <= most_d


def _allowance(
    first: SpheroCylinder, second: SpheroCylinder, allowance_d: float
) -> Iterator[tuple[PowerVector, Problem]]:
    slip = allowance_slip(first, second, allowance_d, limit("slip_difference_d"))
    if slip is None:
        return
    forgotten = slip.code == "allowance_forgotten"
    shift = PowerVector(-allowance_d if forgotten else allowance_d, 0.0, 0.0)
    what = "not subtracted at all" if forgotten else "subtracted twice"
    text = f"differs by the working-distance allowance of {allowance_d:.2f} D: {what}?"
    yield first.vector + shift, Problem(slip.code, text)


def _signs(what: str) -> Problem:
    return Problem("signs_exchanged", f"signs look exchanged ({what}): plus and minus confused?")


def _other_signs(
    sphere_d: float, cylinder_d: float, vector: PowerVector
) -> Iterator[tuple[str, PowerVector]]:
    """A lens with all its signs, its sphere's or its cylinder's exchanged, as written in either cylinder form."""
    yield "all", -vector
    if not cylinder_d:
        return
    for sphere, cylinder in ((sphere_d, cylinder_d), (sphere_d + cylinder_d, -cylinder_d)):
        yield "sphere", PowerVector(vector.m_d - 2.0 * sphere, vector.j0_d, vector.j45_d)
        yield "cylinder", PowerVector(vector.m_d - cylinder, -vector.j0_d, -vector.j45_d)
