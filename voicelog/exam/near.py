"""Near and dynamic retinoscopy of one eye, kept apart from the static readings. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

from voicelog.exam.entries import DarkEntry, EstimateEntry, NottEntry
from voicelog.exam.findings import Findings
from voicelog.exam.guidance import Adjustment, dark_adjustment
from voicelog.exam.pass_state import Writing
from voicelog.optics import (
    BELONGS_DEG,
    Look,
    Problem,
    SpheroCylinder,
    axis_difference_deg,
    dark_refraction,
    round_refraction,
    solve_looks,
)
from voicelog.phrases.meanings import OneEye

Accommodation = EstimateEntry | NottEntry


@dataclass(frozen=True, slots=True)
class DarkResult:
    """What the readings in the dark make: `net` to write down, `exact` unrounded, both None with a problem."""

    readings: tuple[DarkEntry, ...]
    ids: tuple[str, ...]
    adjustment: Adjustment
    net: SpheroCylinder | None = None
    exact: SpheroCylinder | None = None
    problems: tuple[Problem, ...] = ()

    @property
    def text(self) -> str:
        """ "+1.00 -0.50 x 080 (adult, less 1.25 D)", or what stands in its way."""
        what = str(self.net) if self.net else "; ".join(problem.text for problem in self.problems)
        return f"{what} ({self.adjustment.age}, less {self.adjustment.taken_off_d:.2f} D)"


@dataclass(frozen=True)
class NearFindings:
    """Near and dynamic retinoscopy of one eye, in the order it was said, and how its result is written down."""

    dark_readings: tuple[tuple[str, DarkEntry], ...] = ()
    accommodation: tuple[tuple[str, Accommodation], ...] = ()
    writing: Writing = field(default_factory=Writing)

    @cached_property
    def dark(self) -> DarkResult | None:
        """The refraction in the dark; None when there is no reading of it."""
        current = _current(self.dark_readings)
        if not current:
            return None
        ids, readings = tuple(name for name, _ in current), tuple(entry for _, entry in current)
        adjustment = dark_adjustment(readings[-1].age)
        ages = list(dict.fromkeys(each.age for each in readings))
        if len(ages) > 1:
            text = f"near retinoscopy in the dark was said for {' and '.join(ages)}: say the readings again with one"
            return DarkResult(readings, ids, adjustment, problems=(Problem("ages_differ", text),))
        return self._solved(readings, ids, adjustment)

    def replaced_by(self, entry: DarkEntry) -> DarkEntry | None:
        """The reading that a further one takes the place of: the last of its meridian, or a whole lens."""
        for _, each in reversed(_current(self.dark_readings)):
            if each.meridian_deg is None or entry.meridian_deg is None:
                return each
            if abs(axis_difference_deg(each.meridian_deg, entry.meridian_deg)) <= BELONGS_DEG:
                return each
        return None

    def _solved(
        self, readings: tuple[DarkEntry, ...], ids: tuple[str, ...], adjustment: Adjustment
    ) -> DarkResult:
        writing = self.writing
        if readings[-1].meridian_deg is None:
            whole = dark_refraction(readings[-1].lenses.lens, adjustment.taken_off_d)
            exact = whole.in_form(writing.form)
            net = round_refraction(exact, writing.power_step_d, writing.axis_step_deg, writing.form)
            return DarkResult(readings, ids, adjustment, net, exact)
        looks = [
            Look(each.meridian_deg, each.lenses.power_along_d(each.meridian_deg), "neutral")
            for each in readings
            if each.meridian_deg is not None
        ]
        solution = solve_looks(
            looks,
            allowance_d=adjustment.taken_off_d,
            form=writing.form,
            power_step_d=writing.power_step_d,
            axis_step_deg=writing.axis_step_deg,
        )
        if solution.status != "solved":
            return DarkResult(readings, ids, adjustment, problems=solution.problems)
        return DarkResult(readings, ids, adjustment, solution.net, solution.exact, solution.problems)


def near_findings(findings: Findings, eye: OneEye, writing: Writing) -> NearFindings:
    """The near findings of one eye."""
    dark = [(name, entry) for name, entry in findings.of(DarkEntry) if entry.eye == eye]
    measured = [
        (each.id, each.entry)
        for each in findings.found
        if isinstance(each.entry, EstimateEntry | NottEntry) and each.entry.eye == eye
    ]
    return NearFindings(tuple(dark), tuple(measured), writing)


def _current(readings: Sequence[tuple[str, DarkEntry]]) -> tuple[tuple[str, DarkEntry], ...]:
    """A whole lens replaces what came before it; so does the first meridian after a whole lens."""
    current: list[tuple[str, DarkEntry]] = []
    for name, each in readings:
        if each.meridian_deg is None or (current and current[-1][1].meridian_deg is None):
            current = []
        current.append((name, each))
    return tuple(current)
