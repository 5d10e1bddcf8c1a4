"""What is still missing for a whole exam by the technique in use, and reminders for those who want them.

Nothing here speaks up by itself: what is missing is told when it is asked for (or at the end), reminders only where the
settings ask for them.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from voicelog.exam.findings import TechniqueName
from voicelog.exam.ledger import CannotCorrectError
from voicelog.exam.state import EYES, ExamState, EyeName, EyeState, with_entry
from voicelog.exam.wording import TECHNIQUES
from voicelog.optics import meridian_to_streak_deg, perpendicular_deg, written_axis
from voicelog.phrases import meanings as say


@dataclass(frozen=True, slots=True)
class Reminders:
    """Which reminders are wanted."""

    fogging: bool = False
    fellow_eye: bool = False


NO_REMINDERS = Reminders()


def still_missing(state: ExamState) -> tuple[str, ...]:
    """What stands between the exam and its results, in words, the open question first."""
    return (
        *([f"asked: {state.question.text}"] if state.question else []),
        *(f"{name} eye: {text}" for name in EYES for text in _of_eye(state, name)),
        *_unfinished_findings(state),
    )


def _of_eye(state: ExamState, name: EyeName) -> Iterator[str]:
    eye = state.eyes[name]
    if not eye.passes:
        yield "nothing read yet"
        return
    if eye.pass_opened:
        yield f"pass {eye.pass_number + 1} has no reading yet"
    yield from (problem.text for problem in eye.problems)
    technique = state.findings.technique
    if technique is not None:
        yield from _by_technique(eye, technique)


def _by_technique(eye: EyeState, technique: TechniqueName) -> Iterator[str]:
    """The step that the technique still needs, or where the readings left it."""
    if eye.status == "incomplete" and len({each.meridian_deg for each in eye.neutral}) == 1:
        yield _next_step(eye.neutral[-1].meridian_deg, technique)
    with_cylinder = [each for each in eye.neutral if each.lenses.cylinder_d]
    if technique == "spheres" and with_cylinder:
        yield f"a cylinder was before it, though the technique is {TECHNIQUES[technique]}"
    if technique == "sphere_cylinder" and eye.status == "solved" and not with_cylinder:
        yield f"no cylinder was used, though the technique is {TECHNIQUES[technique]}"
    if technique == "cylinders" and any(each.lenses.sphere_d for each in eye.neutral):
        yield f"a sphere was before it, though the technique is {TECHNIQUES[technique]}"


def _next_step(done_deg: int, technique: TechniqueName) -> str:
    """The other principal meridian: the streak for it lies along the meridian that is done."""
    other_deg = perpendicular_deg(done_deg)
    streak = written_axis(meridian_to_streak_deg(other_deg))
    lenses = {
        "spheres": "with a sphere alone",
        "sphere_cylinder": f"leaving the sphere, with a cylinder axis {streak}",
        "cylinders": f"with a cylinder axis {streak}",
    }
    return (
        f"by {TECHNIQUES[technique]}: next neutralise meridian {written_axis(other_deg)}, {lenses[technique]}"
    )


def _unfinished_findings(state: ExamState) -> Iterator[str]:
    for name in EYES:
        found = state.findings.eyes[name]
        for what, lens in (("spectacles have", found.spectacles), ("refined result has", found.refined)):
            if lens is not None and lens.lens is None:
                yield f"{name} eye: the {what} no sphere yet"
        dark = state.near[name].dark
        if dark is not None:
            yield from (f"{name} eye: in the dark: {problem.text}" for problem in dark.problems)
    for drops in state.findings.drops:
        if drops.strength_percent is None:
            yield f"drops {drops.agent}: the strength was not said"
    for at, distance in state.findings.pupils_distance.items():
        if distance.both_mm is None:
            yield f"pupils distance {at}: only one half was said"


def reminder(state: ExamState, meaning: say.Meaning, wanted: Reminders) -> str:
    """What to remind of when `meaning` is entered into the exam as it stands; empty when nothing."""
    if isinstance(meaning, say.Eye):
        return _of_fogging(state, meaning) if wanted.fogging else ""
    return _of_fellow_eye(state, meaning) if wanted.fellow_eye else ""


def _of_fogging(state: ExamState, meaning: say.Eye) -> str:
    eye = with_entry(state, meaning).eye
    return f"is the {_other(eye)} eye fogged?" if eye is not None and eye != state.eye else ""


def _of_fellow_eye(state: ExamState, meaning: say.Meaning) -> str:
    eye = state.eye
    if eye is None or state.eyes[eye].status == "solved" or state.eyes[_other(eye)].passes:
        return ""
    try:
        now = with_entry(state, meaning).eyes[eye].status
    except CannotCorrectError:
        return ""
    return f"the {_other(eye)} eye is still to come" if now == "solved" else ""


def _other(eye: EyeName) -> EyeName:
    return "left" if eye == "right" else "right"
