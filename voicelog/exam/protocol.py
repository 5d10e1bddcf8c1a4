"""What is still missing for a whole exam by the technique in use, and reminders for those who want them.

Nothing here speaks up by itself: what is missing is told when it is asked for (or at the end), reminders only where the
settings ask for them.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from voicelog.exam.entries import (
    TECHNIQUES,
    DropsEntry,
    PupillaryDistanceEntry,
    StartSource,
    TechniqueEntry,
    other_eye,
)
from voicelog.exam.state import EYES, ExamState, EyeName, EyeState
from voicelog.exam.wording import meaning as meaning_words
from voicelog.optics import meridian_to_streak_deg, perpendicular_deg, written_axis
from voicelog.phrases import meanings as say

Technique = Literal["spheres", "sphere_cylinder", "cylinders"]


@dataclass(frozen=True, slots=True)
class Reminders:
    """Which reminders are wanted; `advice`: after every look the one that would tell most.

    `start`: what the estimate begins from with the first look, unless something else was said.
    """

    fogging: bool = False
    fellow_eye: bool = False
    advice: bool = False
    start: StartSource = "nothing"


NO_REMINDERS = Reminders()


def still_missing(state: ExamState) -> tuple[str, ...]:
    """What stands between the exam and its results, in words, the open question first."""
    return (
        *(f"asked: {each.question.text}" for each in reversed(state.dialogue.questions)),
        *(f"waits: {meaning_words(each)}" for each in state.dialogue.waiting),
        *(f"{name} eye: {text}" for name in EYES for text in _of_eye(state, name)),
        *_unfinished_findings(state),
    )


def _of_eye(state: ExamState, name: EyeName) -> Iterator[str]:
    eye = state.eyes[name]
    if not eye.passes:
        yield "nothing read yet"
        return
    if eye.opened is not None:
        yield f"pass {eye.opened} has no reading yet"
    yield from (problem.text for problem in eye.problems)
    technique = state.findings.last(TechniqueEntry)
    if technique is not None:
        yield from _by_technique(eye, technique.technique)


def _by_technique(eye: EyeState, technique: Technique) -> Iterator[str]:
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


def _next_step(done_deg: int, technique: Technique) -> str:
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
        dark = state.near[name].dark
        if dark is not None:
            yield from (f"{name} eye: in the dark: {problem.text}" for problem in dark.problems)
    for _, drops in state.findings.of(DropsEntry):
        if drops.strength_percent is None:
            yield f"drops {drops.agent}: the strength was not said"
    for _, distance in state.findings.of(PupillaryDistanceEntry):
        if distance.total_mm is None:
            yield f"pupillary distance {distance.at}: only one half was said"


def reminder(before: ExamState, now: ExamState, meaning: say.Meaning, wanted: Reminders) -> str:
    """What to remind of after `meaning` led from one state to the other; empty when nothing."""
    if isinstance(meaning, say.Eye):
        return _of_fogging(before, now) if wanted.fogging else ""
    return _of_fellow_eye(before, now) if wanted.fellow_eye else ""


def _of_fogging(before: ExamState, now: ExamState) -> str:
    eye = now.eye
    return f"is the {other_eye(eye)} eye fogged?" if eye is not None and eye != before.eye else ""


def _of_fellow_eye(before: ExamState, now: ExamState) -> str:
    eye = now.eye
    if eye is None or before.eyes[eye].status == "solved" or now.eyes[other_eye(eye)].passes:
        return ""
    solved = now.eyes[eye].status == "solved"
    return f"the {other_eye(eye)} eye is still to come" if solved else ""
