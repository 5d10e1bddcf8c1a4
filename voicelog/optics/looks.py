"""From the looks at one eye in one pass to its refraction: the one place where that is decided.

Every technique (two spheres, sphere and cylinder, two cylinders, any mixture) comes down to powers
along meridians, F(t) = M + J0 cos 2t + J45 sin 2t, which is linear in the power vector:
two readings at right angles give it exactly if they lie in the principal meridians, three or more by
least squares (Worthey, Am J Optom Physiol Opt 1977;54:68-71; Burek, Ophthalmic Physiol Opt 1990;10).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from voicelog.optics import advice, checks
from voicelog.optics.angles import normalise_axis_deg
from voicelog.optics.checks import Form
from voicelog.optics.errors import PowerRangeError
from voicelog.optics.fitting import distinct_meridians
from voicelog.optics.grouping import MeridianGroup, Repeats, group_looks
from voicelog.optics.judging import find_disagreement, motions_against_fit
from voicelog.optics.meridian_fit import Measured, MeridianFit, fit_meridians
from voicelog.optics.motion import at_meridian, bracket_sd_d, contradictions_along, tightest
from voicelog.optics.problems import Problem
from voicelog.optics.readings import Look
from voicelog.optics.refraction import PowerVector, SpheroCylinder
from voicelog.optics.rounding import QUARTER_D, round_refraction
from voicelog.optics.solution import Contradiction, Estimate, LooksSolution, MeridianSeen, Status
from voicelog.optics.spherical import nearest_sphere_d
from voicelog.optics.uncertainty import (
    USUAL_ERRORS,
    ErrorModel,
    Matrix,
    Uncertainty,
    propagate,
    with_allowance,
)


def solve_looks(
    looks: Sequence[Look],
    *,
    allowance_d: float = 0.0,
    form: Form = "minus",
    power_step_d: float = QUARTER_D,
    axis_step_deg: int = 1,
    errors: ErrorModel | None = None,
    repeats: Repeats = "last",
) -> LooksSolution:
    """The refraction from the looks at one eye in one pass, in the order in which they were taken.

    A meridian within 10 degrees of a measured one belongs to it. With `repeats` "last" the last neutral of a
    meridian stands, with "mean" all count. Two meridians within 10 degrees of a right angle are taken as a
    pair at right angles; any other two need a third. `allowance_d` (dioptres) is taken off every neutral
    power for the result; give 0 for net powers or when the working lens is in and counted apart. What
    is said of single looks (`meridians`, texts) stays in the powers given.

    Readings are in conflict when they disagree more than their own errors do in 1 exam of 100
    (`disagreement.judge`), motions when they cannot be true within their meridian, or lie on the wrong side
    of the fit by more than its and their own errors in 1 exam of 100. With an error model given and three or
    more meridians, a cylinder that the errors alone would often make is not written (`spherical.UNSUPPORTED_CHANCE`);
    without one, USUAL_ERRORS judge the readings, and no uncertainty is stated. `form`, `power_step_d` and
    `axis_step_deg` are those of `net`.

    Problem codes: "no_readings", "meridian_missing", "third_meridian_needed", "not_neutral_yet" (more is
    needed); "motions_contradict", "neutral_outside_bounds", "motion_against_fit", "disagreement",
    "out_of_range" (conflict); "ill_conditioned"; "snapped", "only_checked", "cylinder_unsupported" (good to
    know of a result). Raises NotFiniteError, PowerRangeError, FormError, StepError, RepeatsError.
    """
    checks.form(form)
    allowance = checks.allowance("allowance", allowance_d)
    exam = _Exam(
        looks, allowance, _Writing(form, power_step_d, axis_step_deg), errors, group_looks(looks, repeats)
    )
    measured = [group for group in exam.groups if group.standing]
    if advice.what_is_missing([group.meridian_deg for group in measured]) is not None:
        return exam.unsolved()
    return exam.solved(measured)


@dataclass(frozen=True, slots=True)
class _Writing:
    """How the result is written down."""

    form: Form
    power_step_d: float
    axis_step_deg: int

    def rounded(self, vector: PowerVector) -> SpheroCylinder:
        """The nearest lens. Raises PowerRangeError, StepError."""
        return round_refraction(vector, self.power_step_d, self.axis_step_deg, self.form)

    def exact(self, vector: PowerVector) -> SpheroCylinder:
        """The unrounded lens, freed of binary debris beyond 12 decimals so that quarter steps come out exact."""
        lens = vector.to_sphero_cylinder(self.form)
        axis = None if lens.axis_deg is None else normalise_axis_deg(round(lens.axis_deg, 12))
        return SpheroCylinder(round(lens.sphere_d, 12), round(lens.cylinder_d, 12), axis)


@dataclass(frozen=True, slots=True)
class _Exam:
    """The looks sorted into meridians, and everything that judges them."""

    looks: Sequence[Look]
    allowance_d: float
    writing: _Writing
    errors: ErrorModel | None
    groups: Sequence[MeridianGroup]

    @property
    def judged_by(self) -> ErrorModel:
        return USUAL_ERRORS if self.errors is None else self.errors

    def blank(self) -> LooksSolution:
        """What holds with and without a result."""
        return LooksSolution(
            "incomplete" if self.looks else "empty",
            standing=tuple(sorted(index for group in self.groups for index in group.standing)),
            meridians=tuple(self._seen(group) for group in self.groups),
            allowance_d=self.allowance_d,
        )

    def _seen(self, group: MeridianGroup) -> MeridianSeen:
        powers = [self.looks[index].power_d for index in group.standing]
        neutral = math.fsum(powers) / len(powers) if powers else None
        if len(powers) == len(group.looks):
            return MeridianSeen(group.meridian_deg, tuple(group.looks), neutral)
        lower, upper = (
            None if i is None else self.looks[i].power_d for i in tightest(self.looks, group.looks)
        )
        bracket: tuple[float, float] | tuple[None, None] = (None, None)
        if lower is not None and upper is not None and lower < upper:
            sd = bracket_sd_d(upper - lower, self.judged_by.neutrality_sd_d)
            bracket = ((lower + upper) / 2.0, sd)
        return MeridianSeen(group.meridian_deg, tuple(group.looks), neutral, lower, upper, *bracket)

    def _within_meridians(self) -> list[Contradiction]:
        """Contradictions among looks along one and the same meridian."""
        found: list[Contradiction] = []
        if all(look.motion == "neutral" for look in self.looks):
            return found
        for group in self.groups:
            for meridian in distinct_meridians([self.looks[index].meridian_deg for index in group.looks]):
                here = at_meridian(self.looks, group.looks, meridian)
                standing = at_meridian(self.looks, group.standing, meridian)
                found += contradictions_along(self.looks, here, standing)
        return found

    def _fit(self, indices: Sequence[int], groups: Sequence[MeridianGroup]) -> MeridianFit:
        """The fit of the neutral looks `indices`, which are those that stand in the groups."""
        places = {index: position for position, index in enumerate(indices)}
        measured = Measured(
            meridians_deg=[self.looks[index].meridian_deg for index in indices],
            powers_d=[self.looks[index].power_d - self.allowance_d for index in indices],
            own_sds_d=[self.judged_by.reading_sd_d] * len(indices),
            groups=[[places[index] for index in group.standing] for group in groups],
            group_meridians_deg=[group.meridian_deg for group in groups],
        )
        return fit_meridians(measured, self.judged_by)

    def unsolved(self) -> LooksSolution:
        """What is missing, and what bounds say until then."""
        blank = self.blank()
        contradictions = self._within_meridians()
        known = [
            each for each in blank.meridians if each.neutral_d is not None or each.midpoint_d is not None
        ]
        open_ones = [each for each in blank.meridians if each.neutral_d is None]
        problems = [
            *(each.problem for each in contradictions),
            *(advice.not_neutral_yet(each) for each in open_ones),
            self._missing(known),
        ]
        return replace(
            blank,
            status="conflict" if contradictions else blank.status,
            problems=tuple(problem for problem in problems if problem is not None),
            contradictions=tuple(contradictions),
            estimate=None if contradictions else self._estimate(known),
        )

    def _missing(self, known: Sequence[MeridianSeen]) -> Problem | None:
        if self.looks and not known:
            return None
        return advice.what_is_missing([each.meridian_deg for each in known])

    def _estimate(self, known: Sequence[MeridianSeen]) -> Estimate | None:
        """A preliminary refraction from neutral powers and the middles of bounds; None when they make none."""
        meridians = [each.meridian_deg for each in known]
        if advice.what_is_missing(meridians) is not None:
            return None
        values = [each.midpoint_d if each.neutral_d is None else each.neutral_d for each in known]
        reading_sd = self.judged_by.reading_sd_d
        sds = [reading_sd if each.neutral_d is not None else each.midpoint_sd_d for each in known]
        measured = Measured(
            meridians_deg=meridians,
            powers_d=[value - self.allowance_d for value in values if value is not None],
            own_sds_d=[sd for sd in sds if sd is not None],
            groups=[[position] for position in range(len(known))],
            group_meridians_deg=meridians,
        )
        fit = fit_meridians(measured, self.judged_by)
        if fit.useless:
            return None
        try:
            lens = self.writing.rounded(fit.vector)
        except PowerRangeError:
            return None
        return Estimate(lens, fit.vector, self._uncertainty(fit.vector, fit.covariance))

    def _uncertainty(self, vector: PowerVector, covariance: Matrix) -> Uncertainty:
        return propagate(vector, with_allowance(covariance, self.judged_by), self.writing.form)

    def solved(self, measured: Sequence[MeridianGroup]) -> LooksSolution:
        """The refraction, and whatever does not agree with it."""
        blank = self.blank()
        fit = self._fit(blank.standing, measured)
        contradictions = self._within_meridians()
        if not fit.useless:
            contradictions += self._against(fit, {index for each in contradictions for index in each.looks})
        readings = [self.looks[index] for index in blank.standing]
        disagreement, worst = find_disagreement(fit, readings, self.allowance_d)
        result = self._result(fit)
        problems = [
            *(each.problem for each in contradictions),
            *fit.problems,
            disagreement,
            result.problem,
        ]
        conflict = bool(contradictions) or disagreement is not None or result.exact is None
        return replace(
            blank,
            status=self._status(fit, conflict=conflict, contradicted=bool(contradictions)),
            exact=result.exact,
            net=None if fit.useless else result.net,
            vector=fit.vector,
            residual_d=math.sqrt(math.fsum(each**2 for each in fit.residuals_d) / len(fit.residuals_d)),
            residuals_d=fit.residuals_d,
            condition=fit.fit.condition,
            worst_reading=None if worst is None else blank.standing[worst],
            problems=tuple(problem for problem in problems if problem is not None),
            uncertainty=None if self.errors is None else self._uncertainty(result.written, fit.covariance),
            contradictions=tuple(contradictions),
            fit_covariance=fit.covariance,
            pair_axis_deg=fit.fit.axis_deg,
        )

    @staticmethod
    def _status(fit: MeridianFit, *, conflict: bool, contradicted: bool) -> Status:
        """What cannot be true stays a conflict, whatever is missing."""
        if fit.useless and not contradicted:
            return "incomplete"
        return "conflict" if conflict else "solved"

    def _against(self, fit: MeridianFit, known: set[int]) -> list[Contradiction]:
        """Motions that the fit contradicts, those apart whose own meridian contradicts them already."""
        motions = [(i, look) for i, look in enumerate(self.looks) if look.motion != "neutral"]
        found = motions_against_fit(fit.vector, fit.covariance, motions, self.allowance_d, self.judged_by)
        return [each for each in found if not known.intersection(each.looks)]

    def _result(self, fit: MeridianFit) -> "_Result":
        """The lens to write: the one fitted, or a sphere where the errors support no cylinder."""
        try:
            exact, net = self.writing.exact(fit.vector), self.writing.rounded(fit.vector)
        except PowerRangeError as error:
            text = f"the readings give no possible lens: {error}"
            return _Result(None, None, fit.vector, Problem("out_of_range", text))
        sphere_d = None if self.errors is None or fit.pair else nearest_sphere_d(fit.vector, fit.covariance)
        if sphere_d is None or net.axis_deg is None:
            return _Result(exact, net, fit.vector, None)
        written = PowerVector(sphere_d, 0.0, 0.0)
        text = f"the cylinder of {net} is within its own error: written as a sphere"
        return _Result(exact, self.writing.rounded(written), written, Problem("cylinder_unsupported", text))


@dataclass(frozen=True, slots=True)
class _Result:
    exact: SpheroCylinder | None
    net: SpheroCylinder | None
    written: PowerVector
    problem: Problem | None
