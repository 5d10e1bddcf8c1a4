"""Exams of one reference side by side: what changed from visit to visit, and how much a year.

Nothing is kept: it is worked out each time from the exams of the record. Dry and wet retinoscopies are never put
together. Only solved eyes count.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from itertools import pairwise
from typing import Final

from voicelog.exam.differences import Comparison, compare
from voicelog.exam.entries import CylinderLens, Dryness, EarlierResult, EarlierVisits, StartEntry
from voicelog.exam.state import EYES, EyeName, EyeState
from voicelog.optics import SpheroCylinder, YearlyChange, yearly_change
from voicelog.record.auditing import vector_of
from voicelog.record.errors import NoSuchExamError, RecordError
from voicelog.record.exams import ExamRecord
from voicelog.record.journal import Journal
from voicelog.record.listing import Wanted
from voicelog.record.overviews import sought

_DAYS_A_YEAR: Final = 365.25


@dataclass(frozen=True, slots=True)
class Visit:
    """One eye's retinoscopy at one visit: as written, and its spherical equivalent with its standard deviation (D)."""

    exam: str
    at: datetime
    result: SpheroCylinder
    m_d: float
    m_sd_d: float


@dataclass(frozen=True, slots=True)
class Course:
    """The visits of one eye in one condition, oldest first; `changes` are of each visit against the one before."""

    eye: EyeName
    condition: Dryness
    visits: tuple[Visit, ...]
    changes: tuple[Comparison, ...]
    yearly: YearlyChange | None


def exams_of(journal: Journal, reference: str) -> Iterator[tuple[str, ExamRecord]]:
    """The exams that carry this reference, in whatever case it is written. Raises NoSuchExamError where none does."""
    named = _of(journal, reference)
    if not named:
        raise NoSuchExamError(f"there is no exam of the reference {reference!r}")
    return ((name, journal.exam(name)) for name in named)


def _of(journal: Journal, reference: str) -> list[str]:
    """The names of the exams that carry exactly this reference, in whatever case."""
    wanted = Wanted(reference=reference, limit=max(1, journal.count()))
    return [each.id for each in journal.overviews(wanted) if each.sought == sought(reference)]


def courses(exams: Iterable[tuple[str, ExamRecord]]) -> tuple[Course, ...]:
    """The course of each eye and condition that has a solved retinoscopy."""
    ordered = sorted(exams, key=lambda each: each[1].started.at)
    found = []
    for eye in EYES:
        for condition in _CONDITIONS:
            visits = tuple(
                visit for name, record in ordered if (visit := _visit(name, record, eye, condition))
            )
            if visits:
                found.append(_course(eye, condition, visits))
    return tuple(found)


def earlier_visits(journal: Journal, reference: str, at: datetime, *, but_not: str) -> EarlierVisits:
    """The last solved result of each eye and condition before an exam, whose own name is `but_not`, at a time."""
    if not reference:
        return EarlierVisits(why_none="the exam has no reference")
    try:
        exams = [
            (name, record)
            for name, record in exams_of(journal, reference)
            if name != but_not and record.started.at <= at
        ]
    except NoSuchExamError:
        exams = []
    except RecordError as error:
        return EarlierVisits(why_none=f"the record cannot be read: {error}")
    results = tuple(
        _earlier(course.eye, course.condition, course.visits[-1], at) for course in courses(exams)
    )
    return EarlierVisits(results, "" if results else "no earlier visit of this reference has a result")


def begun_from(journal: Journal, exam: str) -> tuple[str, ...]:
    """The exams of the same reference that hold a result of this one, since their estimate was begun from it.

    One that was taken back holds it as well. Those that cannot be read are left out. Raises RecordError for `exam`.
    """
    begun = journal.exam(exam)
    if not begun.state.reference:
        return ()
    day_then = begun.started.at.astimezone().date()
    names = _of(journal, begun.state.reference)
    return tuple(name for name in names if name != exam and day_then in _days_held(journal, name))


def _days_held(journal: Journal, exam: str) -> set[date]:
    """The days of earlier visits whose results an exam holds."""
    try:
        rows = journal.exam(exam).state.ledger.rows.values()
    except RecordError:
        return set()
    entries = [entry for row in rows for entry in (row.entry, row.original) if isinstance(entry, StartEntry)]
    return {result.on for entry in entries for result in entry.results}


def _earlier(eye: EyeName, condition: Dryness, visit: Visit, at: datetime) -> EarlierResult:
    lens = visit.result
    axis = lens.axis_deg
    return EarlierResult(
        eye=eye,
        condition=condition,
        on=visit.at.astimezone().date(),
        days_ago=(at - visit.at).days,
        sphere_d=lens.sphere_d,
        cylinder=None if axis is None else CylinderLens(power_d=lens.cylinder_d, axis_deg=round(axis)),
    )


_CONDITIONS: Final[tuple[Dryness, ...]] = ("dry", "wet")


def _visit(name: str, record: ExamRecord, eye: EyeName, condition: Dryness) -> Visit | None:
    state = record.eyes[eye]
    vector, result = vector_of(state, condition), state.result_of(condition)
    sd_d = _m_sd_d(state, condition)
    if vector is None or result is None or sd_d is None:
        return None
    return Visit(name, record.started.at, result, vector.m_d, sd_d)


def _m_sd_d(eye: EyeState, condition: Dryness) -> float | None:
    """That of the last solved pass: the error of the working distance is common to all, so no mean is surer of it."""
    known = [
        each.solution.uncertainty.m_sd_d
        for each in eye.of_condition(condition)
        if each.status == "solved" and each.solution.uncertainty is not None
    ]
    return known[-1] if known else None


def _course(eye: EyeName, condition: Dryness, visits: tuple[Visit, ...]) -> Course:
    first = visits[0].at
    yearly = yearly_change(
        [(each.at - first).days / _DAYS_A_YEAR for each in visits],
        [each.m_d for each in visits],
        [each.m_sd_d for each in visits],
    )
    changes = tuple(
        compare(new.result, old.result, (day(new.at), day(old.at)), eye=eye) for old, new in pairwise(visits)
    )
    return Course(eye, condition, visits, changes, yearly)


def day(at: datetime) -> str:
    """The day of a visit by this machine's clock: "2026-05-02"."""
    return f"{at.astimezone():%Y-%m-%d}"
