"""What an exam found beside the refractions of retinoscopy, in the one form that all exports share.

Each finding has a code (docs/record.md lists them), a name and a value in words, and its numbers with UCUM units.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from voicelog.exam.acuity import logmar_of
from voicelog.exam.differences import Comparison
from voicelog.exam.comparisons import comparisons
from voicelog.exam.finding_list import distance_text, lens_text
from voicelog.exam.finding_words import acuity_value, given
from voicelog.exam.findings import FoundAcuity, FoundDistance, FoundDrops, FoundLens
from voicelog.exam.near import Accommodation, DarkResult
from voicelog.exam.near_words import ACCOMMODATION, accommodation_text, dark_text
from voicelog.exam.remarks import Remark, exam_remarks
from voicelog.exam.state import EYES, EyeName, EyeState
from voicelog.optics import SpheroCylinder, written_power
from voicelog.record.exams import ExamRecord

About = Literal["right", "left", "both"]
Unit = Literal["[diop]", "deg", "mm", "cm", "%", "1"]

_CORRECTIONS: Final = {
    "unaided": ("acuity-unaided", "acuity without correction"),
    "aided": ("acuity-aided", "acuity with own correction"),
    "refined": ("acuity-refined", "acuity with the refined result"),
    None: ("acuity", "acuity"),
}


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number of a finding; `unit` is UCUM's code, "1" for logMAR and counts."""

    part: str
    value: float
    unit: Unit


@dataclass(frozen=True, slots=True)
class Further:
    """One finding. `about` None: it belongs to no eye."""

    code: str
    about: About | None
    name: str
    text: str
    quantities: tuple[Quantity, ...] = ()


def further(record: ExamRecord) -> tuple[Further, ...]:
    """Everything found beside retinoscopy and refined refraction: the right eye's, the left's, then the rest."""
    return (*(each for name in EYES for each in _of_eye(record, name)), *_of_exam(record))


def compared(record: ExamRecord) -> tuple[Comparison, ...]:
    """The comparisons that the exam allows."""
    return comparisons(record.state)


def remarked(record: ExamRecord) -> tuple[Remark, ...]:
    """The remarks that the exam calls for."""
    return exam_remarks(record.state)


def _of_eye(record: ExamRecord, name: EyeName) -> Iterator[Further]:
    found = record.state.findings
    here = found.eyes[name]
    yield from _passes(name, record.eyes[name])
    yield from (_acuity(each) for each in _in_order(found.acuities) if each.eye == name)
    if here.spectacles is not None:
        yield _spectacles(name, here.spectacles)
    if here.addition_d is not None:
        yield _addition(name, here.addition_d)
    if here.pupil_mm is not None:
        size = (Quantity("size", here.pupil_mm, "mm"),)
        yield Further("pupil-size", name, "pupil", f"{here.pupil_mm:g} mm", size)
    near = record.state.near[name]
    if near.dark is not None:
        yield _dark(name, near.dark)
    yield from (_accommodation(name, each) for each in near.accommodation)


def _of_exam(record: ExamRecord) -> Iterator[Further]:
    found = record.state.findings
    yield from (_acuity(each) for each in _in_order(found.acuities) if each.eye == "both")
    for at in ("far", "near"):
        if at in found.pupils_distance:
            yield _distance(at, found.pupils_distance[at])
    if found.pupils_look is not None:
        yield Further("pupils", "both", "pupils", found.pupils_look)
    if found.vertex_mm is not None:
        size = (Quantity("distance", found.vertex_mm, "mm"),)
        yield Further("vertex-distance", None, "vertex distance", f"{found.vertex_mm:g} mm", size)
    yield from (_drops(each, record.events[each.number].at) for each in found.drops)


def _in_order(acuities: tuple[FoundAcuity, ...]) -> list[FoundAcuity]:
    return sorted(acuities, key=lambda each: list(_CORRECTIONS).index(each.correction))


def _acuity(found: FoundAcuity) -> Further:
    code, name = _CORRECTIONS[found.correction]
    logmar = logmar_of(found.value)
    # To three decimals, and free of the sign of a zero.
    size = () if logmar is None else (Quantity("logmar", round(logmar, 3) + 0.0, "1"),)
    return Further(code, found.eye, name, acuity_value(found.value), size)


def lens_quantities(lens: SpheroCylinder) -> tuple[Quantity, ...]:
    """Sphere, cylinder, axis (not without a cylinder) and spherical equivalent."""
    axis = () if lens.axis_deg is None else (Quantity("axis", lens.axis_deg, "deg"),)
    return (
        Quantity("sphere", lens.sphere_d, "[diop]"),
        Quantity("cylinder", lens.cylinder_d, "[diop]"),
        *axis,
        Quantity("spherical-equivalent", lens.spherical_equivalent_d, "[diop]"),
    )


def _spectacles(name: EyeName, worn: FoundLens) -> Further:
    parts = () if worn.lens is None else lens_quantities(worn.lens)
    if worn.addition_d is not None:
        parts = (*parts, Quantity("addition", worn.addition_d, "[diop]"))
    return Further("previous-spectacles", name, "previous spectacles", lens_text(worn), parts)


def _addition(name: EyeName, addition_d: float) -> Further:
    size = (Quantity("addition", addition_d, "[diop]"),)
    return Further("addition", name, "near addition", written_power(addition_d), size)


def _passes(name: EyeName, eye: EyeState) -> Iterator[Further]:
    if eye.mean is None:
        return
    mean = eye.mean
    parts = (
        Quantity("count", mean.count, "1"),
        Quantity("spread", round(mean.spread_d, 3), "[diop]"),
        Quantity("furthest", round(mean.furthest_d, 3), "[diop]"),
    )
    text = f"mean of {mean.count} passes, up to {mean.furthest_d:.2f} D apart"
    yield Further("passes", name, "retinoscopy repeated", text, parts)


def _dark(name: EyeName, found: DarkResult) -> Further:
    parts = () if found.net is None else lens_quantities(found.net)
    size = Quantity("adjustment", found.adjustment.taken_off_d, "[diop]")
    words = "near retinoscopy in the dark"
    return Further("near-in-the-dark", name, words, dark_text(found), (*parts, size))


def _accommodation(name: EyeName, found: Accommodation) -> Further:
    parts = [Quantity("lag", round(found.lag_d, 3), "[diop]")]
    if found.target_cm is not None and found.neutral_cm is not None:
        parts += [Quantity("target", found.target_cm, "cm"), Quantity("neutral", found.neutral_cm, "cm")]
    code = {"estimate": "monocular-estimate", "nott": "nott"}[found.method]
    return Further(code, name, ACCOMMODATION[found.method], accommodation_text(found), tuple(parts))


def _distance(at: str, found: FoundDistance) -> Further:
    sides = (("both", found.both_mm), ("right", found.right_mm), ("left", found.left_mm))
    parts = tuple(Quantity(side, value, "mm") for side, value in sides if value is not None)
    return Further(f"pupils-distance-{at}", "both", f"pupils distance, {at}", distance_text(found), parts)


def _drops(found: FoundDrops, said_at: datetime) -> Further:
    eye = {"both": "both eyes", None: "eye not said"}.get(found.eye, f"{found.eye} eye")
    clock = found.clock
    # A time of day as it was said is the room's own; the moment of saying it is known as UTC.
    when = f"at {clock.hour}:{clock.minute:02d}" if clock else f"noted {said_at:%H:%M} UTC"
    parts = () if found.strength_percent is None else (Quantity("strength", found.strength_percent, "%"),)
    return Further("drops", found.eye, "drops", f"{given(found)}, {eye}, {when}", parts)
