"""What an exam found in each eye, in the form that all exports share. Powers in dioptres, angles in degrees."""

from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from voicelog.exam.findings import FoundLens
from voicelog.exam.state import EYES, EyeName, EyeState, TakenReading
from voicelog.optics import (
    PUBLISHED_NEUTRALITY_SD_D,
    SpheroCylinder,
    Uncertainty,
)
from voicelog.record.exams import ExamRecord

Method = Literal["retinoscopy", "refined"]
Technique = Literal["sphere and sphere", "sphere and cylinder", "cylinder and cylinder", "mixed lenses"]

UNCERTAINTY_BASIS: Final = (
    "about 95 %: lenses in quarter steps, the streak set to 3 degrees, the distance held to 2 cm,",
    f"neutrality judged with a standard deviation of {PUBLISHED_NEUTRALITY_SD_D} D (one published study).",
)


@dataclass(frozen=True, slots=True)
class Finding:
    """One eye by one method.

    `lens` is the refraction to write down, and `exact` the unrounded one; both None unless `status` is "solved":
    readings that contradict each other give no result to hand on. `spread` holds the standard deviations,
    and `uncertainty` says `lens` with twice these (see UNCERTAINTY_BASIS).
    """

    eye: EyeName
    method: Method
    status: Literal["incomplete", "solved", "conflict"]
    lens: SpheroCylinder | None = None
    exact: SpheroCylinder | None = None
    residual_d: float | None = None
    uncertainty: str | None = None
    spread: Uncertainty | None = None
    technique: Technique | None = None
    readings: tuple[TakenReading, ...] = ()
    reflexes: tuple[tuple[str, int | None], ...] = ()
    problems: tuple[str, ...] = ()

    @property
    def distances_cm(self) -> tuple[float, ...]:
        """The working distances of the neutral readings, each once."""
        return tuple(sorted({each.distance_cm for each in self.readings if each.distance_cm is not None}))

    @property
    def allowances_d(self) -> tuple[float, ...]:
        """What was taken off for the working distance, each value once; 0 with the working lens in place."""
        taken = {each.allowance_d for each in self.readings if each.motion == "neutral"}
        return tuple(sorted(each for each in taken if each is not None))


def findings(record: ExamRecord) -> tuple[Finding, ...]:
    """What was found in each eye: by retinoscopy (right, left), then refined (right, left).

    Of several passes the result is their mean, with the uncertainty of one pass, which is the larger one.
    """
    taken = [_finding(name, record.eyes[name]) for name in EYES if record.eyes[name].passes]
    refined = [_refined(name, record.state.findings.eyes[name].refined) for name in EYES]
    return (*taken, *(each for each in refined if each is not None))


def _refined(name: EyeName, found: FoundLens | None) -> Finding | None:
    """The refined result as it was said: it has no readings, and its lens is the exact one."""
    if found is None:
        return None
    if found.lens is None:
        text = "the sphere of the refined result was not said"
        return Finding(eye=name, method="refined", status="incomplete", problems=(text,))
    return Finding(eye=name, method="refined", status="solved", lens=found.lens, exact=found.lens)


def _finding(name: EyeName, eye: EyeState) -> Finding:
    if eye.status == "empty":
        raise ValueError(f"nothing was read of the {name} eye")
    finding = Finding(
        eye=name,
        method="retinoscopy",
        status=eye.status,
        technique=_technique(eye),
        readings=tuple(reading for each in eye.passes for reading in each.readings),
        reflexes=tuple(reflex for each in (*eye.earlier, eye) for reflex in each.reflexes),
        problems=tuple(problem.text for problem in eye.problems),
    )
    return replace(finding, **_result(eye)) if eye.status == "solved" else finding


def _result(eye: EyeState) -> dict[str, Any]:
    """The result with its standard deviations; what the readings leave over is of one pass only."""
    lens, spread = eye.result, eye.solution.uncertainty
    return {
        "lens": lens,
        "exact": eye.solution.exact if eye.mean is None else eye.mean.exact,
        "residual_d": eye.solution.residual_d if eye.mean is None else None,
        "spread": spread,
        "uncertainty": spread.text(lens) if spread and lens else None,
    }


def _technique(eye: EyeState) -> Technique | None:
    """Which lenses neutralised: the three techniques of the textbooks, or neither of them."""
    if not eye.neutral:
        return None
    lenses = [each.lenses for each in eye.neutral]
    with_cylinder = [each for each in lenses if each.cylinder_d]
    if not with_cylinder:
        return "sphere and sphere"
    if len(with_cylinder) < len(lenses):
        return "sphere and cylinder"
    return "mixed lenses" if any(each.sphere_d for each in lenses) else "cylinder and cylinder"
