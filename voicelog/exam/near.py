"""Near and dynamic retinoscopy of one eye, kept apart from the static readings. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from voicelog.exam.ledger import meridian_deg
from voicelog.exam.lenses import LensesInPlace, exact_d
from voicelog.exam.remarks import Adjustment, dark_adjustment
from voicelog.optics import (
    Form,
    MeridianReading,
    Problem,
    Response,
    SpheroCylinder,
    dark_refraction,
    estimate_lag_d,
    nott_lag_d,
    round_refraction,
    solve_readings,
)
from voicelog.phrases import meanings as say

Method = Literal["estimate", "nott"]
Near = say.Dark | say.Estimate | say.Dynamic


@dataclass(frozen=True, slots=True)
class DarkReading:
    """Neutral in the dark: the lenses in the frame, of the whole eye (meridian None) or along one meridian, degrees."""

    number: int
    age: say.Age
    meridian_deg: int | None
    lenses: LensesInPlace

    @property
    def lens(self) -> SpheroCylinder:
        """The lenses as one; a cylinder whose axis is not known counts for nothing."""
        placed = self.lenses
        cylinder_d = 0.0 if placed.axis_deg is None else placed.cylinder_d or 0.0
        return SpheroCylinder(placed.sphere_d or 0.0, cylinder_d, placed.axis_deg)


@dataclass(frozen=True, slots=True)
class DarkResult:
    """What the readings in the dark make: `net` to write down, `exact` unrounded, both None with a problem."""

    readings: tuple[DarkReading, ...]
    adjustment: Adjustment
    net: SpheroCylinder | None = None
    exact: SpheroCylinder | None = None
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class Accommodation:
    """One measurement of accommodation: by a lens (estimate), or by two distances, centimetres (nott)."""

    number: int
    method: Method
    lag_d: float
    target_cm: float | None = None
    neutral_cm: float | None = None

    @property
    def response(self) -> Response | None:
        """The accommodation in use; None when the target's distance was not said."""
        return None if self.target_cm is None else Response(100 / self.target_cm, self.lag_d)


def nott(number: int, target_cm: float, neutral_cm: float) -> Accommodation:
    """Nott's method: neutral seen from `neutral_cm` with the target at `target_cm`. Raises DistanceError."""
    lag = nott_lag_d(target_cm / 100, neutral_cm / 100)
    return Accommodation(number, "nott", lag, target_cm, neutral_cm)


@dataclass(frozen=True)
class NearFindings:
    """Near and dynamic retinoscopy of one eye, in the order it was said, and how its result is written down."""

    dark_readings: tuple[DarkReading, ...] = ()
    accommodation: tuple[Accommodation, ...] = ()
    form: Form = "minus"
    power_step_d: float = 0.25
    axis_step_deg: int = 1

    @cached_property
    def dark(self) -> DarkResult | None:
        """The refraction in the dark; None when there is no reading of it."""
        readings = _current(self.dark_readings)
        if not readings:
            return None
        adjustment = dark_adjustment(readings[-1].age)
        ages = list(dict.fromkeys(each.age for each in readings))
        if len(ages) > 1:
            text = f"near retinoscopy in the dark was said for {' and '.join(ages)}: say the readings again with one"
            return DarkResult(readings, adjustment, problems=(Problem("ages_differ", text),))
        return self._solved(readings, adjustment)

    def _solved(self, readings: tuple[DarkReading, ...], adjustment: Adjustment) -> DarkResult:
        if readings[-1].meridian_deg is None:
            exact = dark_refraction(readings[-1].lens, adjustment.taken_off_d).in_form(self.form)
            net = round_refraction(exact, self.power_step_d, self.axis_step_deg, self.form)
            return DarkResult(readings, adjustment, net, exact)
        powers = [
            MeridianReading(each.meridian_deg, each.lenses.power_along_d(each.meridian_deg))
            for each in readings
            if each.meridian_deg is not None
        ]
        solution = solve_readings(
            powers,
            adjustment.taken_off_d,
            form=self.form,
            power_step_d=self.power_step_d,
            axis_step_deg=self.axis_step_deg,
        )
        if solution.status != "solved":
            return DarkResult(readings, adjustment, problems=solution.problems)
        return DarkResult(readings, adjustment, solution.net, solution.exact, solution.problems)


def after_near(
    before: Mapping[say.OneEye, NearFindings],
    number: int,
    said: Near,
    eye: say.OneEye | None,
    naming: say.Naming,
) -> Mapping[say.OneEye, NearFindings]:
    """Both eyes' findings after one entry; `eye` is the eye in hand. Without any eye nothing changes.

    Raises ValueError for a power without sign or size, DistanceError for distances that no arm has.
    """
    named = eye if isinstance(said, say.Dark) else said.eye or eye
    if named is None:
        return before
    old = before[named]
    match said:
        case say.Dark(age=age, where=where, lens=lens):
            place = None if where is None else meridian_deg(where, naming)
            reading = DarkReading(number, age, place, LensesInPlace().changed_by(lens))
            new = replace(old, dark_readings=(*old.dark_readings, reading))
        case say.Estimate(power=power):
            measured = Accommodation(number, "estimate", estimate_lag_d(exact_d(power)))
            new = replace(old, accommodation=(*old.accommodation, measured))
        case say.Dynamic(target_cm=target, neutral_cm=neutral):
            new = replace(old, accommodation=(*old.accommodation, nott(number, target, neutral)))
    return {**before, named: new}


def _current(readings: Sequence[DarkReading]) -> tuple[DarkReading, ...]:
    """A whole lens replaces what came before it; so does the first meridian after a whole lens."""
    current: list[DarkReading] = []
    for each in readings:
        if each.meridian_deg is None or (current and current[-1].meridian_deg is None):
            current = []
        current.append(each)
    return tuple(current)
