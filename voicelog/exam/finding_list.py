"""Findings beside the readings as a short labelled list, for screens and reports that have little room."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from voicelog.exam.acuity import Notation
from voicelog.exam.finding_words import acuity_value, given
from voicelog.exam.findings import FoundDistance, FoundDrops, FoundLens
from voicelog.exam.near_words import ACCOMMODATION, accommodation_text, dark_text
from voicelog.exam.state import EYES, ExamState, EyeName
from voicelog.exam.wording import TECHNIQUES
from voicelog.optics import written_axis, written_power
from voicelog.phrases.meanings import Eyes


@dataclass(frozen=True, slots=True)
class Labelled:
    """One finding: whose it is (None: of no eye), what it is, and its value in words."""

    eye: Eyes | None
    label: str
    text: str


def labelled_findings(state: ExamState, notation: Notation | None = None) -> tuple[Labelled, ...]:
    """Everything found beside the readings, eye by eye, then what belongs to both.

    Acuity is written in `notation`, by default as it was said.
    """
    return (
        *(each for eye in EYES for each in _of_eye(state, eye, notation)),
        *_acuities(state, "both", notation),
        *_of_both(state),
    )


def _of_eye(state: ExamState, eye: EyeName, notation: Notation | None) -> Iterator[Labelled]:
    found = state.findings.eyes[eye]
    yield from _acuities(state, eye, notation)
    if found.spectacles is not None:
        yield Labelled(eye, "spectacles", lens_text(found.spectacles))
    if found.refined is not None:
        yield Labelled(eye, "refined", lens_text(found.refined))
    if found.addition_d is not None:
        yield Labelled(eye, "addition", written_power(found.addition_d))
    if found.pupil_mm is not None:
        yield Labelled(eye, "pupil", f"{found.pupil_mm:g} mm")
    near = state.near[eye]
    if near.dark is not None:
        yield Labelled(eye, "in the dark", dark_text(near.dark))
    for measured in near.accommodation:
        yield Labelled(eye, ACCOMMODATION[measured.method], accommodation_text(measured))


def _acuities(state: ExamState, eye: Eyes, notation: Notation | None) -> Iterator[Labelled]:
    for each in state.findings.acuities:
        if each.eye == eye:
            label = f"acuity {each.correction}" if each.correction else "acuity"
            yield Labelled(eye, label, acuity_value(each.value, notation))


def _of_both(state: ExamState) -> Iterator[Labelled]:
    findings = state.findings
    for at, distance in findings.pupils_distance.items():
        yield Labelled(None, f"pupils distance {at}", distance_text(distance))
    if findings.pupils_look is not None:
        yield Labelled(None, "pupils", findings.pupils_look)
    if findings.vertex_mm is not None:
        yield Labelled(None, "vertex distance", f"{findings.vertex_mm:g} mm")
    for drops in findings.drops:
        yield Labelled(drops.eye, "drops", f"{given(drops)}, {_when(state, drops)}")
    if findings.technique is not None:
        yield Labelled(None, "technique", TECHNIQUES[findings.technique])


def lens_text(found: FoundLens) -> str:
    """ "-1.00 -0.50 x 090, addition +2.00", or what of it was said."""
    addition = f", addition {written_power(found.addition_d)}" if found.addition_d is not None else ""
    if found.lens is not None:
        return f"{found.lens}{addition}"
    parts = found.parts
    axis = written_axis(parts.axis_deg) if parts.axis_deg is not None else "not said"
    return f"sphere not said, cylinder {written_power(parts.cylinder_d or 0.0)} axis {axis}{addition}"


def distance_text(found: FoundDistance) -> str:
    """ "63 mm (right 31, left 32)"."""
    halves = [
        f"{name} {half:g}"
        for name, half in (("right", found.right_mm), ("left", found.left_mm))
        if half is not None
    ]
    if found.both_mm is None:
        return f"{', '.join(halves)} mm"
    return f"{found.both_mm:g} mm" + (f" ({', '.join(halves)})" if halves else "")


def _when(state: ExamState, drops: FoundDrops) -> str:
    if drops.clock is not None:
        return f"at {drops.clock.hour:d}:{drops.clock.minute:02d}"
    at = entered_at(state, drops.number)
    return f"at {at.astimezone():%H:%M}" if at is not None else "time not known"


def entered_at(state: ExamState, number: int) -> datetime | None:
    """When the event of that number happened; None when the exam does not hold it."""
    return next((event.at for event in state.events if event.number == number), None)
