"""Simulated exams: random eyes, every technique, both naming habits, from the eye's answers to the logged result."""

from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

import numpy as np

from tests.english import ENGLISH
from voicelog.exam.state import EyeState
from voicelog.optics import (
    ErrorModel,
    MeridianReading,
    SpheroCylinder,
    Uncertainty,
    WorkingDistance,
    difference,
    solve_readings,
)
from voicelog.phrases.meanings import Naming
from voicelog.practice.examiner import Examiner, Plan
from voicelog.practice.exercise import TECHNIQUES
from voicelog.practice.eye import EyeModel, Glimpse, SimulatedEye, random_refraction
from voicelog.session import Session
from voicelog.settings import Settings

NAMINGS: tuple[Naming, ...] = ("streak", "meridian")
# Usual distances with the lens out; and those for which a trial set holds the working lens to 0.01 D, with it in.
DISTANCES_CM = (50, 57, 60, 66, 67, 75, 80)
LENS_DISTANCES_CM = (50, 57, 67, 80)
TREMOR_D, NOISE_D, ANGLE_NOISE_DEG = 0.15, 0.1, 2.0


@dataclass(frozen=True)
class Exam:
    """One eye examined: the truth, the plan, what was said, and what the log made of it."""

    seed: int
    truth: SpheroCylinder
    plan: Plan
    lines: tuple[str, ...]
    refused: tuple[str, ...]
    eye: EyeState
    glimpses: tuple[Glimpse, ...]

    @property
    def found(self) -> SpheroCylinder:
        """The refraction as it is shown, rounded for writing down."""
        assert self.eye.status == "solved", (self.seed, self.plan, self.eye.problems)
        assert self.eye.solution.net is not None
        return self.eye.solution.net

    @property
    def measured_apart_d(self) -> float:
        """Largest difference of power in any meridian between the unrounded result and the truth, dioptres."""
        assert self.eye.solution.exact is not None
        return difference(self.eye.solution.exact, self.truth).largest_power_d

    @property
    def shown_apart_d(self) -> float:
        """The same in the eye's two principal meridians for the result as it is shown, rounded to quarters."""
        return principal_difference_d(self.found, self.truth)

    def uncertainty(self, errors: ErrorModel) -> tuple[Uncertainty, float]:
        """The stated uncertainty, and the squared distance of the truth in units of its covariance."""
        readings = [MeridianReading(each.meridian_deg, each.net_d or 0.0) for each in self.eye.neutral]
        solution = solve_readings(readings, errors=errors)
        assert solution.uncertainty is not None
        assert solution.vector is not None
        off = solution.vector - self.truth.vector
        vector = np.array([off.m_d, off.j0_d, off.j45_d])
        covariance = np.array(solution.uncertainty.covariance)
        return solution.uncertainty, float(vector @ np.linalg.solve(covariance, vector))


def plans(seed: int) -> Iterator[Plan]:
    """Every technique with both habits for one eye; form, distance and working lens vary with the seed."""
    random = Random(f"plan {seed}")
    for technique in TECHNIQUES:
        for naming in NAMINGS:
            lens_in = random.random() < 0.4
            distance = random.choice(LENS_DISTANCES_CM if lens_in else DISTANCES_CM)
            yield Plan(technique, naming, random.choice(("minus", "plus")), distance, lens_in)


def settings(plan: Plan) -> Settings:
    """The settings of an examiner who works like that."""
    return Settings(naming=plan.naming, cylinder_form=plan.form)


def exam(seed: int, plan: Plan, *, unsteady: bool = False) -> Exam:
    """Examine the eye of a seed; every line is typed."""
    truth = random_refraction(seed)
    model = EyeModel(truth, tremor_d=TREMOR_D, noise_d=NOISE_D, angle_noise_deg=ANGLE_NOISE_DEG)
    eye = SimulatedEye(model if unsteady else EyeModel(truth), seed)
    glimpses: list[Glimpse] = []
    session = Session(settings(plan))
    lines, refused = [], []
    for line in Examiner(eye, plan, seed=seed, language=ENGLISH, on_look=glimpses.append).lines():
        lines.append(line)
        if session.type_line(line).outcome != "accepted":
            refused.append(line)
    return Exam(seed, truth, plan, tuple(lines), tuple(refused), session.state.eyes["right"], tuple(glimpses))


def principal_difference_d(found: SpheroCylinder, truth: SpheroCylinder) -> float:
    """Largest difference of power in the principal meridians of the truth, dioptres."""
    return max(abs(found.power_along_d(meridian) - power) for meridian, power in truth.power_cross())


def allowance_gap_d(plan: Plan) -> float:
    """How far the working lens of the trial set is from the exact allowance; 0 with the lens out."""
    exact = WorkingDistance(plan.distance_cm / 100.0).allowance_d
    return abs(plan.working_lens_d - exact) if plan.lens_in else 0.0
