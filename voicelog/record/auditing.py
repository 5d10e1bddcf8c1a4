"""Exams of the record held against each other: retinoscopy and the refined result of each eye, pass and pass.

Nothing is kept: an audit is worked out each time from the exams that are chosen.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Final

from voicelog.exam.comparisons import REFINED, refractions
from voicelog.exam.entries import Dryness
from voicelog.exam.state import EYES, EyeName, EyeState
from voicelog.optics import ErrorModel, PowerVector, SpheroCylinder
from voicelog.optics.audit import (
    AxisBand,
    DistanceBias,
    MethodAgreement,
    Repeatability,
    axis_scatter,
    distance_bias,
    method_agreement,
    own_errors,
    repeatability,
)
from voicelog.record.exams import ExamRecord

PARTS: Final = ("m", "j0", "j45")
LEAST_DEGREES: Final = 10
"""Repeated passes beyond the first of each eye, from which on an own scatter is offered: our own choice, no source."""


@dataclass(frozen=True, slots=True)
class PairedEye:
    """Retinoscopy of an eye, unrounded, and the refined result of it; `distance_m` None: unknown, or more than one."""

    exam: str
    at: datetime
    eye: EyeName
    retinoscopy: PowerVector
    refined: SpheroCylinder
    distance_m: float | None

    @property
    def apart(self) -> PowerVector:
        """Retinoscopy less refined result."""
        return self.retinoscopy - self.refined.vector


@dataclass(frozen=True, slots=True)
class Month:
    """One month (local time) as "2025-11": exams with a pair, and the mean difference of M with its agreement."""

    month: str
    exams: int
    eyes: int
    m_mean_d: float
    m: MethodAgreement | None


@dataclass(frozen=True, slots=True)
class Audit:
    """All figures of an audit, of retinoscopies in one condition; None where there are too few exams for a figure.

    `agreement` is of M, J0 and J45 by their names, dioptres.
    """

    condition: Dryness
    exams_seen: int
    pairs: tuple[PairedEye, ...]
    agreement: dict[str, MethodAgreement | None]
    distance: DistanceBias | None
    repeats: Repeatability | None
    axes: tuple[AxisBand, ...]
    months: tuple[Month, ...]

    @property
    def exams(self) -> int:
        """Exams with at least one pair."""
        return len({each.exam for each in self.pairs})

    @property
    def own_errors(self) -> ErrorModel | None:
        """The examiner's own scatter for the error model; None while there are too few repeated passes."""
        enough = self.repeats is not None and self.repeats.degrees >= LEAST_DEGREES
        return own_errors(self.repeats) if self.repeats is not None and enough else None


def audit(exams: Iterable[tuple[str, ExamRecord]], condition: Dryness = "dry") -> Audit:
    """The figures of exams, each with its name. Dry and wet retinoscopies are never put together."""
    seen = 0
    pairs: list[PairedEye] = []
    passes: list[list[PowerVector]] = []
    for name, record in exams:
        seen += 1
        pairs += _pairs(name, record, condition)
        passes += [_solved(eye, condition) for eye in record.eyes.values()]
    grouped = _by_exam(pairs)
    return Audit(
        condition=condition,
        exams_seen=seen,
        pairs=tuple(pairs),
        agreement={part: _agreement(grouped, part) for part in PARTS},
        distance=distance_bias(list(_with_distance(grouped))),
        repeats=repeatability(passes),
        axes=axis_scatter([(each.retinoscopy.to_sphero_cylinder(), each.refined) for each in pairs]),
        months=tuple(_months(pairs)),
    )


def _pairs(exam: str, record: ExamRecord, condition: Dryness) -> Iterator[PairedEye]:
    refined = refractions(record.state, REFINED)
    for name in EYES:
        eye = record.eyes[name]
        found = vector_of(eye, condition)
        if found is not None and name in refined:
            yield PairedEye(exam, record.started.at, name, found, refined[name], _distance_m(eye, condition))


def _solved(eye: EyeState, condition: Dryness) -> list[PowerVector]:
    """Each solved pass of a condition, unrounded."""
    vectors = [each.solution.vector for each in eye.of_condition(condition) if each.status == "solved"]
    return [each for each in vectors if each is not None]


def vector_of(eye: EyeState, condition: Dryness) -> PowerVector | None:
    """What the exam holds for its result: the mean of the passes, or the one pass; nothing beside a contradiction."""
    if condition == eye.result_condition and eye.status != "solved":
        return None
    mean = eye.mean_of(condition)
    solved = _solved(eye, condition)
    return mean.vector if mean is not None else solved[-1] if solved else None


def _distance_m(eye: EyeState, condition: Dryness) -> float | None:
    distances = {
        reading.distance_cm
        for each in eye.of_condition(condition)
        if each.status == "solved"
        for reading in each.neutral
    }
    (distance_cm, *others) = distances or {None}
    return None if others or distance_cm is None else distance_cm / 100


def _by_exam(pairs: Sequence[PairedEye]) -> list[list[PairedEye]]:
    return [list(group) for _, group in groupby(pairs, key=lambda each: each.exam)]


def _agreement(grouped: Sequence[Sequence[PairedEye]], part: str) -> MethodAgreement | None:
    return method_agreement([[getattr(each.apart, f"{part}_d") for each in group] for group in grouped])


def _with_distance(grouped: Sequence[Sequence[PairedEye]]) -> Iterator[list[tuple[float, float]]]:
    for group in grouped:
        known = [(each.distance_m, each.apart.m_d) for each in group if each.distance_m is not None]
        if known:
            yield known


def _months(pairs: Sequence[PairedEye]) -> Iterator[Month]:
    def month(each: PairedEye) -> str:
        return each.at.astimezone().strftime("%Y-%m")

    ordered = sorted(pairs, key=lambda each: (month(each), each.exam))
    for name, of_month in groupby(ordered, key=month):
        grouped = _by_exam(list(of_month))
        eyes = [each.apart.m_d for group in grouped for each in group]
        yield Month(name, len(grouped), len(eyes), sum(eyes) / len(eyes), _agreement(grouped, "m"))
