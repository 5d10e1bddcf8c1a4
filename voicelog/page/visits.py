"""The visits of one reference, as the review shows them: a table of each eye, and M over time."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from voicelog.exam.differences import in_words, scatter_words
from voicelog.optics import written_power
from voicelog.page.plots import Plot, Sign, Tick, line, scale, x_of
from voicelog.record.visit_words import rate_words
from voicelog.record.visits import Course, day

_SECONDS_A_DAY: Final = 86_400.0
_MOST_DATES: Final = 4


@dataclass(frozen=True, slots=True)
class VisitRow:
    """One visit: its exam, its day, the refraction, and what changed since the visit before ("" at the first)."""

    exam: str
    day: str
    refraction: str
    change: str
    unusual: bool


@dataclass(frozen=True, slots=True)
class CourseView:
    """One eye in one condition; `plot` None while there is one visit."""

    name: str
    rows: tuple[VisitRow, ...]
    rate: str
    plot: Plot | None


def course_view(course: Course) -> CourseView:
    """One course as it is shown."""
    return CourseView(
        name=f"{course.eye} eye, {course.condition}",
        rows=tuple(_rows(course)),
        rate="" if course.yearly is None else rate_words(course.yearly),
        plot=_plot(course),
    )


def _rows(course: Course) -> Iterator[VisitRow]:
    first = course.visits[0]
    yield VisitRow(first.exam, day(first.at), str(first.result), "", False)
    for visit, change in zip(course.visits[1:], course.changes, strict=True):
        words = f"{in_words(change.apart)}; {scatter_words(bool(change.usual))}"
        yield VisitRow(visit.exam, day(visit.at), str(visit.result), words, not change.usual)


def _plot(course: Course) -> Plot | None:
    """M of each visit over time, with the dates of some of them; None of one visit or of one moment."""
    at = [_days(each.at) for each in course.visits]
    if at[-1] <= at[0]:
        return None
    y = scale([each.m_d for each in course.visits])
    x = x_of(at[0] - 0.05 * (at[-1] - at[0]), at[-1] + 0.05 * (at[-1] - at[0]))
    told = [f"{day(each.at)}: M {written_power(round(each.m_d, 2))}" for each in course.visits]
    every = -(-len(at) // _MOST_DATES)
    places = [(x(when), y.at(each.m_d)) for when, each in zip(at, course.visits, strict=True)]
    return Plot(
        says=f"{course.eye} eye, {course.condition}, spherical equivalent over time: {'; '.join(told)}",
        # A month is written once, at its first visit.
        x_ticks=tuple(
            {
                day(each.at)[:7]: Tick(place, day(each.at)[:7])
                for (place, _), each in reversed(list(zip(places, course.visits, strict=True))[::every])
            }.values()
        ),
        y_ticks=y.ticks,
        signs=tuple(Sign(*place, "neutral", text) for place, text in zip(places, told, strict=True)),
        curve=line(places),
    )


def _days(at: datetime) -> float:
    return at.timestamp() / _SECONDS_A_DAY
