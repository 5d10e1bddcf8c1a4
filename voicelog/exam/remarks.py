"""Remarks: what an exam has that usual practice says something of, measured out of its state.

A remark says what usual practice is, with its source. It changes nothing, asks nothing, and is no diagnosis; local
rules and the examiner's judgement go first.
"""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from voicelog.exam.acuity_lines import logmar_of
from voicelog.exam.age_limits import Exceeded, exceeded, in_a_child, noted_age
from voicelog.exam.comparisons import REFINED, RETINOSCOPY, refractions
from voicelog.exam.entries import (
    AcuityEntry,
    AfferentDefectEntry,
    AgeEntry,
    DropsEntry,
    PupilsEntry,
    SpectaclesEntry,
    VertexEntry,
)
from voicelog.exam.guidance import Rule, Subject, data, limit
from voicelog.exam.planes import at_cornea, stacked_apart_d
from voicelog.exam.since_drops import since_drops
from voicelog.exam.state import EYES, ExamState, EyeName, EyeState
from voicelog.optics import SpheroCylinder

Measured = Mapping[str, Iterable[float | str]]
"""Values by the name of the measure: dioptres and logMAR as numbers, words as text."""

DEFERRING = "Remarks say what usual practice is; local rules and the examiner's judgement go first."
_WEAK = ("dull", "none", "white")
_LINES = 2  # decimals of logMAR that a chart can tell apart
_SLACK = 1e-9


@dataclass(frozen=True, slots=True)
class Remark:
    """One remark: what was found, what usual practice is, and the source. `about` None: both eyes, or the exam."""

    id: str
    about: Literal["right", "left"] | None
    finding: str
    advice: str
    source: str

    @property
    def text(self) -> str:
        """The remark in one line."""
        subject = f"{self.about} eye: " if self.about else ""
        return f"{subject}{self.finding}: {self.advice}"


def exam_remarks(state: ExamState) -> tuple[Remark, ...]:
    """Every remark that the exam calls for: on the right eye, the left, both, and on drops.

    Values of the refraction are those of the refined result where there is one, otherwise of retinoscopy.
    """
    by_eye, of_both = _measured(state)
    above = _above_limits(by_eye, of_both, noted_age(state))
    if noted_age(state) is None and above:
        of_both["above_if_child"] = (in_a_child(above),)
        above = ()
    found: list[Remark] = []
    for name in EYES:
        found += remarks("eye", by_eye[name], name)
        found += [_of_age(each, name) for about, each in above if about == name]
    found += remarks("both", of_both)
    found += [_of_age(each, None) for about, each in above if about is None]
    given = [each for _, each in state.findings.of(DropsEntry)]
    found += remarks(
        "drops", {"agent": [each.agent for each in given], "given": [each.given for each in given]}
    )
    return tuple(found)


def above_age_limits(state: ExamState, age: AgeEntry | None) -> tuple[tuple[EyeName | None, Exceeded], ...]:
    """What of an exam is above a limit at an age, or without one would be at some: of each eye, then of both (None)."""
    return _above_limits(*_measured(state), age)


def best_refractions(state: ExamState) -> dict[EyeName, SpheroCylinder]:
    """Of each eye that has one the refined result, otherwise retinoscopy's: what the remarks go by."""
    return refractions(state, RETINOSCOPY) | refractions(state, REFINED)


def _measured(state: ExamState) -> tuple[dict[EyeName, Measured], dict[str, tuple[float | str, ...]]]:
    lenses = best_refractions(state)
    return {name: _of_eye(state, name, lenses.get(name)) for name in EYES}, _of_both(state, lenses)


def _above_limits(
    by_eye: Mapping[EyeName, Measured], of_both: Measured, age: AgeEntry | None
) -> tuple[tuple[EyeName | None, Exceeded], ...]:
    of_eyes = [(name, each) for name in EYES for each in _above("eye", by_eye[name], age)]
    return (*of_eyes, *((None, each) for each in _above("both", of_both, age)))


def _above(on: Subject, measured: Measured, age: AgeEntry | None) -> Iterator[Exceeded]:
    """The limits by age that measured values are above."""
    for measure, values in measured.items():
        for value in values:
            if isinstance(value, float):
                yield from exceeded(on, measure, value, age)


def _of_age(each: Exceeded, about: Literal["right", "left"] | None) -> Remark:
    return Remark(each.limit.id, about, each.finding, each.limit.text, each.limit.source)


def remarks(on: Subject, measured: Measured, about: Literal["right", "left"] | None = None) -> list[Remark]:
    """What the measured values call for, in the order of the file; one value is remarked on once a rule."""
    found = []
    for rule in data().remark:
        if rule.on != on:
            continue
        for value in dict.fromkeys(measured.get(rule.measure, ())):
            if _holds(rule, value):
                found.append(Remark(rule.id, about, _finding(rule, value), rule.text, rule.source))
    return found


def _holds(rule: Rule, value: float | str) -> bool:
    if isinstance(value, str):
        return rule.any_of is None or value in rule.any_of
    above = rule.above if rule.above_limit is None else limit(rule.above_limit)
    return (
        (rule.at_least is None or value >= rule.at_least - _SLACK)
        and (rule.at_most is None or value <= rule.at_most + _SLACK)
        and (above is None or value > above + _SLACK)
        and (rule.below is None or value < rule.below - _SLACK)
    )


def _finding(rule: Rule, value: float | str) -> str:
    if isinstance(value, str):
        return rule.finding.format(value={"none": "no"}.get(value, value))
    return rule.finding.format(value=value, size=abs(value), lines=value / 0.1)


def _of_eye(
    state: ExamState, name: EyeName, lens: SpheroCylinder | None
) -> dict[str, tuple[float | str, ...]]:
    eye = state.eyes[name]
    found: dict[str, tuple[float | str, ...]] = {
        "reflex": tuple(_reflexes(eye)),
        "corrected_logmar": tuple(_corrected_logmar(state, name)),
        "lag_d": tuple(each.lag_d for _, each in state.near[name].accommodation),
        "passes_apart_d": () if eye.mean is None else (eye.mean.furthest_d,),
        "read_early": tuple(_read_early(state, name)),
        "stacked_apart_d": (stacked_apart_d(eye),),
        "wet_more_plus_d": tuple(_wet_more_plus_d(eye)),
        "afferent_defect": tuple(_afferent_defect(state, name)),
    }
    worn = state.findings.last(SpectaclesEntry, name)
    if lens is not None and worn is not None:
        found["to_minus_of_spectacles_d"] = (worn.lens.spherical_equivalent_d - lens.spherical_equivalent_d,)
    if lens is not None:
        found["spherical_equivalent_d"] = (lens.spherical_equivalent_d,)
        found["cylinder_d"] = (abs(lens.cylinder_d),)
        powers = (lens.sphere_d, lens.sphere_d + lens.cylinder_d)
        found["most_plus_d"] = (max(powers),)
        found["most_minus_size_d"] = (-min(powers),)
        strongest = max(map(abs, powers))
        if state.findings.last(VertexEntry) is None:
            found["power_without_vertex_d"] = (strongest,)
        elif strongest > limit("vertex_matters_d") and (there := at_cornea(state, lens)):
            found["at_cornea"] = (there,)
    return found


def _of_both(state: ExamState, lenses: dict[EyeName, SpheroCylinder]) -> dict[str, tuple[float | str, ...]]:
    found: dict[str, tuple[float | str, ...]] = {"weaker_reflex": tuple(_weaker_reflex(state))}
    looks = [each.look for _, each in state.findings.of(PupilsEntry) if each.look is not None]
    if looks:
        found["pupils"] = (looks[-1],)
    if len(lenses) == len(EYES):
        right, left = lenses["right"], lenses["left"]
        equivalents_d = abs(right.spherical_equivalent_d - left.spherical_equivalent_d)
        cylinders_d = abs(abs(right.cylinder_d) - abs(left.cylinder_d))
        found["spherical_equivalent_difference_d"] = (equivalents_d,)
        found["cylinder_difference_d"] = (cylinders_d,)
        found["anisometropia_d"] = (max(equivalents_d, cylinders_d),)
    best = [min(_corrected_logmar(state, name), default=math.inf) for name in EYES]
    if all(math.isfinite(each) for each in best):
        found["acuity_difference_logmar"] = (round(abs(best[0] - best[1]), _LINES),)
    return found


def _reflexes(eye: EyeState) -> Iterator[str]:
    yield from (each.reflex for each in eye.reflexes)


def _read_early(state: ExamState, name: EyeName) -> Iterator[str]:
    """The first reading of an eye that came too soon, in words."""
    early = [each for each in since_drops(state, name) if each.early]
    if early:
        yield f"read {early[0].minutes} minutes after {early[0].drops.given}"


def _wet_more_plus_d(eye: EyeState) -> Iterator[float]:
    dry, wet = eye.result_of("dry"), eye.result_of("wet")
    if dry is not None and wet is not None:
        yield wet.spherical_equivalent_d - dry.spherical_equivalent_d


def _afferent_defect(state: ExamState, name: EyeName) -> Iterator[str]:
    found = state.findings.last(AfferentDefectEntry)
    if found is not None and found.present and found.eye == name:
        yield "present"


def _corrected_logmar(state: ExamState, name: EyeName) -> Iterator[float]:
    """The best acuity with lenses, as an upper bound of logMAR: words stand beyond every chart."""
    said = [
        each.value
        for _, each in state.findings.of(AcuityEntry)
        if each.eye == name and each.correction in ("aided", "refined")
    ]
    sizes = [math.inf if each.category else logmar_of(each) for each in said]
    known = [each for each in sizes if each is not None]
    if known:
        yield min(known)


def _weaker_reflex(state: ExamState) -> Iterator[str]:
    """The one eye with a weak reflex, when the other was looked at and has none of that kind."""
    weak = [name for name in EYES if set(_WEAK) & set(_reflexes(state.eyes[name]))]
    if len(weak) == 1:
        other = state.eyes["left" if weak[0] == "right" else "right"]
        if other.passes or other.reflexes:
            yield weak[0]
