"""What was found beside the readings, folded from the ledger's live lines. Units are in the names."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal

from voicelog.exam.lenses import LensesInPlace, exact_d
from voicelog.optics import SpheroCylinder
from voicelog.phrases import meanings as say

TechniqueName = Literal["spheres", "sphere_cylinder", "cylinders"]
BOTH: Final[tuple[say.OneEye, say.OneEye]] = ("right", "left")


@dataclass(frozen=True, slots=True)
class FoundLens:
    """A refraction that was written down elsewhere or found by asking; `number` is its latest entry's.

    What was not said is None: a cylinder without a sphere is no refraction yet.
    """

    number: int
    parts: LensesInPlace
    addition_d: float | None = None

    @property
    def lens(self) -> SpheroCylinder | None:
        """The refraction, when its sphere is known."""
        if self.parts.sphere_d is None:
            return None
        if not self.parts.cylinder_d or self.parts.axis_deg is None:
            return SpheroCylinder(self.parts.sphere_d)
        return SpheroCylinder(self.parts.sphere_d, self.parts.cylinder_d, self.parts.axis_deg)


@dataclass(frozen=True, slots=True)
class FoundAcuity:
    """An acuity of one eye or both; `correction` None when it was not said."""

    number: int
    eye: say.Eyes
    correction: Literal["unaided", "aided", "refined"] | None
    value: say.AcuityValue


@dataclass(frozen=True, slots=True)
class FoundDistance:
    """A distance between the pupils, in millimetres; `both_mm` also where the two halves were said."""

    number: int
    both_mm: float | None = None
    right_mm: float | None = None
    left_mm: float | None = None


@dataclass(frozen=True, slots=True)
class FoundDrops:
    """Drops that were given; `number` is the entry's, whose time holds when no `clock` was said."""

    number: int
    agent: say.Agent
    strength_percent: float | None
    eye: say.Eyes | None
    clock: say.Clock | None


@dataclass(frozen=True, slots=True)
class EyeFindings:
    """What belongs to one eye."""

    spectacles: FoundLens | None = None
    refined: FoundLens | None = None
    addition_d: float | None = None
    pupil_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Findings:
    """Everything found beside the readings; of repeated findings the last counts, the ledger keeps them all."""

    eyes: Mapping[say.OneEye, EyeFindings] = field(
        default_factory=lambda: {name: EyeFindings() for name in BOTH}
    )
    acuities: tuple[FoundAcuity, ...] = ()
    pupils_look: Literal["equal", "unequal"] | None = None
    pupils_distance: Mapping[Literal["far", "near"], FoundDistance] = field(default_factory=dict)
    vertex_mm: float | None = None
    drops: tuple[FoundDrops, ...] = ()
    technique: TechniqueName | None = None

    @property
    def empty(self) -> bool:
        """Whether nothing was found."""
        return replace(self, technique=None) == Findings()

    def acuity(self, eye: say.Eyes, correction: str | None) -> FoundAcuity | None:
        """The acuity of an eye with a correction."""
        found = (each for each in self.acuities if each.eye == eye and each.correction == correction)
        return next(found, None)


def after_finding(before: Findings, number: int, said: say.Meaning, eye: say.OneEye | None) -> Findings:
    """The findings after one entry; `eye` is the eye in hand. Entries that are no findings change nothing."""
    match said:
        case say.Acuity():
            return _with_acuity(before, number, said, said.eye or eye)
        case say.PupilsDistance():
            return _with_distance(before, number, said)
        case say.Pupils(look=look) if look is not None:
            return replace(before, pupils_look=look)
        case say.Pupils(size_mm=size):
            return _each(before, said.eye or eye, lambda old: replace(old, pupil_mm=size))
        case say.Spectacles():
            return _each(before, said.eye or eye, lambda old: _with_spectacles(old, number, said))
        case say.Refined():
            return _each(before, said.eye or eye, lambda old: _with_refined(old, number, said))
        case say.Addition(power=power):
            return _each(before, said.eye or "both", lambda old: replace(old, addition_d=exact_d(power)))
        case say.Vertex(vertex_mm=vertex):
            return replace(before, vertex_mm=vertex)
        case say.Drops():
            given = FoundDrops(number, said.agent, said.strength_percent, said.eye, said.clock)
            return replace(before, drops=(*before.drops, given))
        case say.Technique(technique=technique):
            return replace(before, technique=technique)
        case _:
            return before


def _each(before: Findings, eye: say.Eyes | None, change: Callable[[EyeFindings], EyeFindings]) -> Findings:
    named: Iterable[say.OneEye] = BOTH if eye == "both" else () if eye is None else (eye,)
    return replace(before, eyes={**before.eyes, **{name: change(before.eyes[name]) for name in named}})


def _with_acuity(before: Findings, number: int, said: say.Acuity, eye: say.Eyes | None) -> Findings:
    if eye is None:
        return before
    new = FoundAcuity(number, eye, said.correction, said.value)
    others = [each for each in before.acuities if (each.eye, each.correction) != (eye, said.correction)]
    return replace(before, acuities=(*others, new))


def _with_distance(before: Findings, number: int, said: say.PupilsDistance) -> Findings:
    at = said.at or "far"
    if said.both_mm is not None:
        new = FoundDistance(number, said.both_mm)
    else:
        old = before.pupils_distance.get(at, FoundDistance(number))
        right = said.right_mm if said.right_mm is not None else old.right_mm
        left = said.left_mm if said.left_mm is not None else old.left_mm
        both = right + left if right is not None and left is not None else None
        new = FoundDistance(number, both, right, left)
    return replace(before, pupils_distance={**before.pupils_distance, at: new})


def _with_spectacles(old: EyeFindings, number: int, said: say.Spectacles) -> EyeFindings:
    addition = exact_d(said.addition) if said.addition is not None else None
    if old.spectacles is not None and addition is None:
        addition = old.spectacles.addition_d
    return replace(old, spectacles=FoundLens(number, _changed(old.spectacles, said.lens), addition))


def _with_refined(old: EyeFindings, number: int, said: say.Refined) -> EyeFindings:
    return replace(old, refined=FoundLens(number, _changed(old.refined, said.lens)))


def _changed(old: FoundLens | None, lens: say.Lens) -> LensesInPlace:
    """As in the trial frame: a part that is named takes the place of its kind, and the others stay."""
    return (LensesInPlace() if old is None else old.parts).changed_by(lens)
