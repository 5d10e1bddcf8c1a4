"""Which refractions of an exam are compared: worked out anew from its state, and never kept."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

from voicelog.exam.differences import Comparison, compare, compare_eyes, swapped_eyes
from voicelog.exam.entries import SpectaclesEntry, SubjectiveEntry
from voicelog.exam.pass_state import PassState
from voicelog.exam.state import EYES, ExamState, EyeName, EyeState
from voicelog.optics import Problem, SpheroCylinder, WorkingDistance

Pair = tuple[SpheroCylinder, SpheroCylinder]
RETINOSCOPY, SPECTACLES, REFINED = "retinoscopy", "spectacles worn", "subjective"


def comparisons(state: ExamState) -> tuple[Comparison, ...]:
    """Retinoscopy against spectacles worn, subjective result and the pass before, then right against left.

    Only what is solved is compared. Right against left is of the subjective results where both eyes have one, otherwise
    of retinoscopy, and asks whether the eyes were swapped. Nothing to compare gives an empty tuple.
    """
    eyes = state.eyes
    found = [each for name in EYES for each in _of_eye(state, name, eyes[name])]
    return (*found, *_between_eyes(state))


def refractions(state: ExamState, name: str) -> dict[EyeName, SpheroCylinder]:
    """The refractions by one of the three names above, of the eyes that have one."""
    if name == RETINOSCOPY:
        found = {eye: each.result for eye, each in state.eyes.items()}
    else:
        kind = SpectaclesEntry if name == SPECTACLES else SubjectiveEntry
        lenses = {eye: state.findings.last(kind, eye) for eye in EYES}
        found = {eye: None if each is None else each.lens for eye, each in lenses.items()}
    return {eye: lens for eye, lens in found.items() if lens is not None}


def _of_eye(state: ExamState, name: EyeName, eye: EyeState) -> Iterator[Comparison]:
    result = eye.result
    if result is None:
        return
    for other in (SPECTACLES, REFINED):
        lens = refractions(state, other).get(name)
        if lens is not None:
            yield compare(result, lens, (RETINOSCOPY, other), eye=name, allowance_d=_allowance_d(eye))
    solved = [
        (number, each)
        for number, each in enumerate(eye.passes, start=1)
        if each.status == "solved" and each.solution.net is not None
    ]
    for (before, one), (number, two) in pairwise(solved):
        if one.solution.net is not None and two.solution.net is not None:
            names = (f"pass {number}", f"pass {before}")
            yield compare(two.solution.net, one.solution.net, names, eye=name, allowance_d=_allowance_d(two))


def _allowance_d(eye: EyeState | PassState) -> float | None:
    """What the working distance of the readings takes off, dioptres, also where its lens was in place."""
    distances = [each.distance_cm for each in eye.neutral if each.distance_cm is not None]
    return WorkingDistance(distances[-1] / 100).allowance_d if distances else None


def _between_eyes(state: ExamState) -> Iterator[Comparison]:
    by_retinoscopy, refined = _pair(state, RETINOSCOPY), _pair(state, REFINED)
    if by_retinoscopy is None and refined is None:
        return
    questions = [] if by_retinoscopy is None else _swapped(state, by_retinoscopy)
    name, pair = (RETINOSCOPY, by_retinoscopy) if refined is None else (REFINED, refined)
    if pair is not None:
        yield replace(compare_eyes(*pair, name), questions=tuple(questions))


def _swapped(state: ExamState, by_retinoscopy: Pair) -> list[Problem]:
    found = []
    for other in (SPECTACLES, REFINED):
        pair = _pair(state, other)
        question = None if pair is None else swapped_eyes(by_retinoscopy, pair, other)
        if question is not None:
            found.append(question)
    return found


def _pair(state: ExamState, name: str) -> Pair | None:
    found = refractions(state, name)
    return (found["right"], found["left"]) if len(found) == len(EYES) else None
