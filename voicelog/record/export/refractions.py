"""What retinoscopy found in each eye, in the form that all exports share. Powers in dioptres, angles in degrees."""

from dataclasses import dataclass
from typing import Literal

from voicelog.exam.entries import Dryness
from voicelog.exam.eye_state import EyeState
from voicelog.exam.pass_state import PassState, TakenReading, Writing
from voicelog.exam.passes import PassMean
from voicelog.exam.state import EYES, EyeName
from voicelog.optics import SpheroCylinder, Uncertainty
from voicelog.record.exams import ExamRecord

Status = Literal["incomplete", "solved", "conflict"]
Technique = Literal["sphere and sphere", "sphere and cylinder", "cylinder and cylinder", "mixed lenses"]


@dataclass(frozen=True, slots=True)
class Refraction:
    """One eye by retinoscopy, without drops or under cycloplegia: the two are never put together.

    `lens` is the refraction to write down, and `exact` the unrounded one; both None unless `status` is "solved":
    readings that contradict each other give no result to hand on. Of several passes it is their `mean`, with the
    uncertainty of one pass, which is the larger one. `spread` holds the standard deviations, and `uncertainty` says
    `lens` with twice these (see `uncertainty_basis`). `in_hand`: it is of the last pass, and what is gone on with.
    """

    eye: EyeName
    condition: Dryness
    in_hand: bool
    status: Status
    passes: tuple[PassState, ...]
    lens: SpheroCylinder | None = None
    exact: SpheroCylinder | None = None
    residual_d: float | None = None
    uncertainty: str | None = None
    spread: Uncertainty | None = None
    mean: PassMean | None = None

    @property
    def readings(self) -> tuple[TakenReading, ...]:
        """Every reading of these passes, in order."""
        return tuple(reading for each in self.passes for reading in each.readings)

    @property
    def neutral(self) -> tuple[TakenReading, ...]:
        """The neutral readings that stand."""
        return tuple(reading for each in self.passes for reading in each.neutral)

    @property
    def problems(self) -> tuple[str, ...]:
        """What stands in the way, or should be known, of the last pass."""
        return tuple(problem.text for problem in self.passes[-1].problems)

    @property
    def technique(self) -> Technique | None:
        """Which lenses neutralised in the last pass: the three techniques of the textbooks, or neither of them."""
        lenses = [each.lenses for each in self.passes[-1].neutral]
        with_cylinder = [each for each in lenses if each.cylinder is not None]
        if not lenses:
            return None
        if not with_cylinder:
            return "sphere and sphere"
        if len(with_cylinder) < len(lenses):
            return "sphere and cylinder"
        return "mixed lenses" if any(each.sphere_d for each in lenses) else "cylinder and cylinder"

    @property
    def distances_cm(self) -> tuple[float, ...]:
        """The working distances of the readings, each once."""
        return tuple(sorted({each.distance_cm for each in self.readings if each.distance_cm is not None}))

    @property
    def allowances_d(self) -> tuple[float, ...]:
        """What was taken off for the working distance, each value once; 0 with its lens in place."""
        taken = {each.allowance_d for each in self.readings if each.motion == "neutral"}
        return tuple(sorted(each for each in taken if each is not None))

    @property
    def mirrors(self) -> tuple[str, ...]:
        """How the sleeve was set for the readings, each setting once."""
        return tuple(dict.fromkeys(each.entry.mirror for each in self.readings))


def refractions(record: ExamRecord) -> tuple[Refraction, ...]:
    """What retinoscopy found in each eye, the right before the left, and dry before wet."""
    return tuple(
        _refraction(name, record.eyes[name], condition)
        for name in EYES
        for condition in record.eyes[name].conditions
    )


def _refraction(name: EyeName, eye: EyeState, condition: Dryness) -> Refraction:
    passes = eye.of_condition(condition)
    in_hand = condition == eye.result_condition
    solved = [each for each in passes if each.status == "solved"]
    # A pass in hand that is not solved holds its result back; one that was gone on from does not.
    last = passes[-1] if in_hand or not solved else solved[-1]
    if last.status == "empty":
        raise ValueError(f"pass {last.number} of the {name} eye has no reading")
    if last.status != "solved":
        return Refraction(name, condition, in_hand, last.status, passes)
    mean, solution, lens = eye.mean_of(condition), last.solution, eye.result_of(condition)
    spread = solution.uncertainty
    return Refraction(
        name,
        condition,
        in_hand,
        last.status,
        passes,
        lens=lens,
        exact=solution.exact if mean is None else mean.exact,
        residual_d=solution.residual_d if mean is None else None,
        uncertainty=spread.text(lens) if spread and lens else None,
        spread=spread,
        mean=mean,
    )


def uncertainty_basis(writing: Writing) -> tuple[str, str]:
    """By what the uncertainty of a result was reckoned, in two sentences' parts."""
    source = "one published study" if writing.neutrality_sd_d is None else "the examiner's own exams"
    return (
        "about 95 %: lenses in quarter steps, the streak set to 3 degrees, the distance held to 2 cm,",
        f"neutrality judged with a standard deviation of {writing.judged_sd_d:g} D ({source}).",
    )
