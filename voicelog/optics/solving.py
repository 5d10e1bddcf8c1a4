"""From meridian readings to a refraction.

Every technique (two spheres, sphere and cylinder, two cylinders, any mixture) comes down to powers
along meridians, F(t) = M + J0 cos 2t + J45 sin 2t, which is linear in the power vector:
two readings at right angles give it exactly if they lie in the principal meridians, three or more by
least squares (Worthey, Am J Optom Physiol Opt 1977;54:68-71; Burek, Ophthalmic Physiol Opt 1990;10).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from voicelog.optics import checks
from voicelog.optics.angles import axis_difference_deg, normalise_axis_deg
from voicelog.optics.checks import Form
from voicelog.optics.errors import PowerRangeError, StepError
from voicelog.optics.fitting import (
    SAME_MERIDIAN_DEG,
    Fit,
    best_next_meridian_deg,
    distinct_meridians,
    fit_all_components,
    fit_perpendicular,
)
from voicelog.optics.problems import Problem
from voicelog.optics.readings import MeridianReading
from voicelog.optics.refraction import PowerVector, SpheroCylinder
from voicelog.optics.rounding import QUARTER_D, round_refraction
from voicelog.optics.uncertainty import ErrorModel, Uncertainty, fit_covariance, propagate
from voicelog.optics.written import written_power

Status = Literal["empty", "incomplete", "solved", "conflict"]
SNAP_DEG: Final = 5.0  # two meridians this near to a right angle are taken as one
DISAGREEMENT_D: Final = 0.375
# A standardised residual beyond one and a half quarter steps. Readings merely rounded to quarter steps
# reach 0.25 at most in four equally spaced meridians; our choice, no source.
POOR_AMPLIFICATION: Final = 3.5
USELESS_AMPLIFICATION: Final = 10.0
# Worst factor from reading error to result error. The rounding of quarter-step readings alone (0.07 D
# standard deviation) moves the result by a quarter dioptre at the first, by 0.7 D at the second.
_TOP_SHARE: Final = 0.9  # a residual this near to the largest is as suspect as the largest


@dataclass(frozen=True, slots=True)
class Solution:
    """A refraction solved from readings, or what is missing.

    status       "empty" no reading; "incomplete" more readings are needed; "solved"; "conflict" the
                 readings disagree, or give a power beyond 40 D
    exact        unrounded lens; None when the readings do not determine one (or it is beyond 40 D)
    net          the nearest writable lens, the one to show; None too when the meridians are so close
                 together that the exact one means nothing (problem "ill_conditioned", status "incomplete")
    vector       net power vector, dioptres
    residual_d   root mean square of what the fit leaves over, dioptres
    residuals_d  reading minus fit for each reading, dioptres, in the order given
    condition    ratio of the largest to the smallest singular value of the fit; 1.4 for evenly
                 spread meridians, 1 for two at right angles
    worst_reading  index of the reading that fits worst, when the readings disagree and can tell which
    uncertainty  present when an error model was given
    """

    status: Status
    exact: SpheroCylinder | None = None
    net: SpheroCylinder | None = None
    vector: PowerVector | None = None
    residual_d: float | None = None
    residuals_d: tuple[float, ...] = ()
    condition: float | None = None
    worst_reading: int | None = None
    problems: tuple[Problem, ...] = ()
    uncertainty: Uncertainty | None = None


def solve_readings(
    readings: Sequence[MeridianReading],
    allowance_d: float = 0.0,
    *,
    form: Form = "minus",
    power_step_d: float = QUARTER_D,
    axis_step_deg: int = 1,
    errors: ErrorModel | None = None,
    snap_deg: float = SNAP_DEG,
    disagreement_d: float = DISAGREEMENT_D,
) -> Solution:
    """Solve meridian readings for the refraction.

    `allowance_d` (dioptres) is taken off every reading once; give 0 for net readings or when the
    working lens is in and counted apart. Repeats of one meridian are averaged by the fit. Two meridians
    within `snap_deg` degrees of a right angle are turned to it symmetrically and a problem says so.
    `disagreement_d` is the standardised residual (residual / sqrt(1 - leverage), dioptres) above
    which the readings are in conflict. `form`, `power_step_d` and `axis_step_deg` are those of `net`.
    Problem codes: "no_readings", "meridian_missing", "third_meridian_needed", "snapped",
    "ill_conditioned", "disagreement", "out_of_range".
    Raises NotFiniteError, PowerRangeError, FormError, StepError for unusable arguments.
    """
    checks.form(form)
    allowance = checks.allowance("allowance", allowance_d)
    for name, value in (("snap angle", snap_deg), ("disagreement limit", disagreement_d)):
        if checks.finite(name, value) < 0.0:
            raise StepError(f"{name} is {value:g}; 0 or more is needed")
    exam = _Exam(readings, allowance)
    missing = _what_is_missing(exam.groups, snap_deg)
    if missing is not None:
        return Solution("incomplete" if readings else "empty", problems=(missing,))
    fit = exam.fit()
    disagreement, worst = _disagreement(exam, fit, disagreement_d)
    exact, net, out_of_range = _lenses(fit.vector, form, power_step_d, axis_step_deg)
    problems = [_snapped(exam.groups), _ill_conditioned(exam.groups, fit), disagreement, out_of_range]
    useless = fit.amplification > USELESS_AMPLIFICATION
    conflict = disagreement is not None or out_of_range is not None
    return Solution(
        status="incomplete" if useless else "conflict" if conflict else "solved",
        exact=exact,
        net=None if useless else net,
        vector=fit.vector,
        residual_d=math.sqrt(sum(residual**2 for residual in fit.residuals_d) / len(readings)),
        residuals_d=fit.residuals_d,
        condition=fit.condition,
        worst_reading=worst,
        problems=tuple(problem for problem in problems if problem is not None),
        uncertainty=None if errors is None else _uncertainty(fit, exam.meridians, errors, form),
    )


class _Exam:
    """The readings with their net powers, and the meridians that are truly different."""

    def __init__(self, readings: Sequence[MeridianReading], allowance_d: float) -> None:
        self.readings = readings
        self.meridians = [reading.meridian_deg for reading in readings]
        self.powers = [reading.power_d - allowance_d for reading in readings]
        self.groups = distinct_meridians(self.meridians)

    def fit(self, sign_changed: int | None = None) -> Fit:
        """Fit the net powers; as if the lens of one reading had had the other sign, when its index is given."""
        powers = list(self.powers)
        if sign_changed is not None:
            powers[sign_changed] -= 2.0 * self.readings[sign_changed].power_d
        if len(self.groups) == 2:
            return fit_perpendicular(self.meridians, powers, _snapped_axis_deg(self.groups))
        return fit_all_components(self.meridians, powers)


def _what_is_missing(groups: Sequence[float], snap_deg: float) -> Problem | None:
    if not groups:
        return Problem("no_readings", "no meridian has been measured")
    if len(groups) == 1:
        return _missing(groups[0])
    if len(groups) == 2 and _off_right_angle_deg(groups) > max(snap_deg, SAME_MERIDIAN_DEG):
        return _third_needed(groups)
    return None


def _lenses(
    vector: PowerVector, form: Form, power_step_d: float, axis_step_deg: int
) -> tuple[SpheroCylinder | None, SpheroCylinder | None, Problem | None]:
    """Exact and written lens, or the problem that there is none within 40 D."""
    try:
        return _exact(vector, form), round_refraction(vector, power_step_d, axis_step_deg, form), None
    except PowerRangeError as error:
        return None, None, Problem("out_of_range", f"the readings give no possible lens: {error}")


def _uncertainty(fit: Fit, meridians_deg: Sequence[float], errors: ErrorModel, form: Form) -> Uncertainty:
    return propagate(fit.vector, fit_covariance(fit, meridians_deg, errors), form)


def _exact(vector: PowerVector, form: Form) -> SpheroCylinder:
    """The unrounded lens, freed of binary debris beyond 12 decimals so that quarter steps come out exact."""
    lens = vector.to_sphero_cylinder(form)
    axis = None if lens.axis_deg is None else normalise_axis_deg(round(lens.axis_deg, 12))
    return SpheroCylinder(round(lens.sphere_d, 12), round(lens.cylinder_d, 12), axis)


def _off_right_angle_deg(pair: Sequence[float]) -> float:
    return abs(abs(axis_difference_deg(pair[1], pair[0])) - 90.0)


def _snapped_axis_deg(pair: Sequence[float]) -> float:
    """The first of the two meridians at right angles nearest to a pair, both turned by the same amount."""
    turn = axis_difference_deg(pair[1], pair[0])
    excess = turn - 90.0 if turn > 0.0 else turn + 90.0
    return normalise_axis_deg(pair[0] + excess / 2.0)


def _missing(meridian_deg: float) -> Problem:
    wanted = best_next_meridian_deg([meridian_deg])
    text = f"the {wanted:g} meridian is missing; only {meridian_deg:g} was measured"
    return Problem("meridian_missing", text)


def _third_needed(pair: Sequence[float]) -> Problem:
    apart = abs(axis_difference_deg(pair[1], pair[0]))
    text = (
        f"meridians {pair[0]:g} and {pair[1]:g} are {apart:g} degrees apart, not 90: "
        f"a third meridian is needed, best near {best_next_meridian_deg(pair):g}"
    )
    return Problem("third_meridian_needed", text)


def _snapped(groups: Sequence[float]) -> Problem | None:
    if len(groups) != 2 or _off_right_angle_deg(groups) <= SAME_MERIDIAN_DEG:
        return None
    apart = abs(axis_difference_deg(groups[1], groups[0]))
    axis = _snapped_axis_deg(groups)
    text = (
        f"meridians {groups[0]:g} and {groups[1]:g} are {apart:g} degrees apart; "
        f"taken as {axis:g} and {normalise_axis_deg(axis + 90.0):g}"
    )
    return Problem("snapped", text)


def _ill_conditioned(meridians_deg: Sequence[float], fit: Fit) -> Problem | None:
    if fit.amplification <= POOR_AMPLIFICATION:
        return None
    text = (
        f"meridians {_listed(meridians_deg)} fix the lens poorly: 0.25 D in the readings can move it by "
        f"{0.25 * fit.amplification:.1f} D; measure near {best_next_meridian_deg(meridians_deg):g} as well"
    )
    return Problem("ill_conditioned", text)


def _listed(values: Sequence[float]) -> str:
    return ", ".join(f"{value:g}" for value in values[:-1]) + f" and {values[-1]:g}"


def _standardised(fit: Fit) -> list[float]:
    """Residuals over the square root of what is left free, dioptres; 0 where nothing else checks a reading."""
    return [
        abs(residual) / math.sqrt(1.0 - leverage) if leverage < 1.0 - 1e-9 else 0.0
        for residual, leverage in zip(fit.residuals_d, fit.leverages, strict=True)
    ]


def _disagreement(exam: _Exam, fit: Fit, limit_d: float) -> tuple[Problem | None, int | None]:
    """A problem when the readings disagree, and the index of the one that fits worst if they can tell.

    With one reading more than needed all standardised residuals are equal, whichever is wrong.
    """
    standardised = _standardised(fit)
    largest = max(standardised)
    if largest <= limit_d:
        return None, None
    suspects = [index for index, value in enumerate(standardised) if value >= _TOP_SHARE * largest]
    worst = suspects[0] if len(suspects) == 1 else None
    if worst is None:
        named = " or ".join(_named(exam.readings[index]) for index in suspects)
        text = f"the readings disagree: {named} does not fit"
    else:
        reading = exam.readings[worst]
        expected = reading.power_d - fit.residuals_d[worst] / (1.0 - fit.leverages[worst])
        others = f"the others give {written_power(expected)} there"
        text = f"the readings disagree: {_named(reading)} fits worst, {others}"
    return Problem("disagreement", text + _sign_hint(exam, limit_d)), worst


def _sign_hint(exam: _Exam, limit_d: float) -> str:
    """What to do: measure again, or look at the one reading whose other sign would settle it.

    A lost sign is the commonest slip; it is only ever pointed at, never corrected.
    """
    settled = [
        index
        for index, reading in enumerate(exam.readings)
        if reading.power_d and max(_standardised(exam.fit(sign_changed=index))) <= limit_d
    ]
    if len(settled) != 1:
        return "; measure again"
    reading = exam.readings[settled[0]]
    return f"; with {written_power(-reading.power_d)} at meridian {reading.meridian_deg:g} all would agree"


def _named(reading: MeridianReading) -> str:
    return f"{written_power(reading.power_d)} at meridian {reading.meridian_deg:g}"
