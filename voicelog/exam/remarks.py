"""Remarks: what an exam has that usual practice says something of, measured out of its state.

A remark says what usual practice is, with its source. It changes nothing, asks nothing, and is no diagnosis; local
rules and the examiner's judgement go first.
"""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from voicelog.exam.acuity_lines import logmar_of
from voicelog.exam.comparisons import REFINED, RETINOSCOPY, refractions
from voicelog.exam.entries import AcuityEntry, DropsEntry, PupilsEntry, VertexEntry
from voicelog.exam.guidance import Rule, Subject, data, limit
from voicelog.exam.state import EYES, ExamState, EyeName, EyeState
from voicelog.optics import SpheroCylinder

Measured = Mapping[str, Iterable[float | str]]
"""Values by the name of the measure: dioptres and logMAR as numbers, words as text."""

DEFERRING = "Remarks say what usual practice is; local rules and the examiner's judgement go first."
_WEAK = ("dull", "none")
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
    lenses = refractions(state, RETINOSCOPY) | refractions(state, REFINED)
    found: list[Remark] = []
    for name in EYES:
        found += remarks("eye", _of_eye(state, name, lenses.get(name)), name)
    found += remarks("both", _of_both(state, lenses))
    found += remarks("drops", {"agent": [each.agent for _, each in state.findings.of(DropsEntry)]})
    return tuple(found)


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
    }
    if lens is not None:
        found["spherical_equivalent_d"] = (lens.spherical_equivalent_d,)
        found["cylinder_d"] = (abs(lens.cylinder_d),)
        if state.findings.last(VertexEntry) is None:
            strongest = max(abs(lens.sphere_d), abs(lens.sphere_d + lens.cylinder_d))
            found["power_without_vertex_d"] = (strongest,)
    return found


def _of_both(state: ExamState, lenses: dict[EyeName, SpheroCylinder]) -> dict[str, tuple[float | str, ...]]:
    found: dict[str, tuple[float | str, ...]] = {"weaker_reflex": tuple(_weaker_reflex(state))}
    looks = [each.look for _, each in state.findings.of(PupilsEntry) if each.look is not None]
    if looks:
        found["pupils"] = (looks[-1],)
    if len(lenses) == len(EYES):
        right, left = lenses["right"], lenses["left"]
        found["spherical_equivalent_difference_d"] = (
            abs(right.spherical_equivalent_d - left.spherical_equivalent_d),
        )
    best = [min(_corrected_logmar(state, name), default=math.inf) for name in EYES]
    if all(math.isfinite(each) for each in best):
        found["acuity_difference_logmar"] = (round(abs(best[0] - best[1]), _LINES),)
    return found


def _reflexes(eye: EyeState) -> Iterator[str]:
    yield from (each.reflex for each in eye.reflexes)


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
