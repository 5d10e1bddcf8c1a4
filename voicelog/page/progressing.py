"""The learner's progress as the page shows it: plots of errors, lenses and minutes, and the same numbers as a table."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from voicelog.page.plots import LEFT, RIGHT_EDGE, Plot, Scale, Sign, Tick, line, scale, x_of
from voicelog.practice.progress import Progress
from voicelog.practice.results import LessonResult
from voicelog.practice.summing import usual_length_d
from voicelog.practice.tables import NO_KIND, progress_words

MOST_LESSONS: Final = 40
"""Latest lessons that are shown; all count in the sentences."""
_MOST_TICKS: Final = 8


@dataclass(frozen=True, slots=True)
class LessonRow:
    """A lesson in the table; texts. `off` is the length of the error's power vector, dioptres."""

    number: int
    day: str
    kind: str
    lenses: str
    minutes: str
    sphere: str
    cylinder: str
    axis: str
    off: str


@dataclass(frozen=True, slots=True)
class ProgressView:
    """The page's progress. `plots` are with their captions; `left_out` is how many older lessons are not shown."""

    sentences: tuple[str, ...]
    plots: tuple[tuple[str, Plot], ...] = ()
    rows: tuple[LessonRow, ...] = ()
    left_out: int = 0


def progress_view(progress: Progress, now: datetime) -> ProgressView:
    """What the latest lessons came to."""
    lessons = sorted(progress.lessons, key=lambda each: each.at)
    first = max(0, len(lessons) - MOST_LESSONS)
    shown = list(enumerate(lessons, start=1))[first:]
    return ProgressView(
        sentences=tuple(progress_words(progress, now)),
        plots=tuple(_plots(shown)) if shown else (),
        rows=tuple(_row(number, each) for number, each in shown),
        left_out=first,
    )


def _plots(shown: Sequence[tuple[int, LessonResult]]) -> list[tuple[str, Plot]]:
    usual = usual_length_d()
    found = [
        (
            f"Error of each lesson, dioptres (length of the power vector). Dotted: {usual:.2f}, as near as two "
            "examiners come. A lesson without a result has no point.",
            _plot(
                shown, "error", lambda each: each.apart.length_d if each.apart else None, "{:.2f} D", usual
            ),
        ),
        ("Lenses of each lesson.", _plot(shown, "lenses", lambda each: each.lenses, "{:.0f}")),
        ("Minutes of each lesson.", _plot(shown, "minutes", lambda each: each.minutes, "{:.1f}")),
    ]
    return [(caption, plot) for caption, plot in found if plot is not None]


def _plot(
    shown: Sequence[tuple[int, LessonResult]],
    name: str,
    value_of: Callable[[LessonResult], float | None],
    form: str,
    level: float | None = None,
) -> Plot | None:
    """One value a lesson, from nought upwards; None where no lesson has it."""
    known = [(number, each, value) for number, each in shown if (value := value_of(each)) is not None]
    if not known:
        return None
    y = scale([0.0, *(value for _, _, value in known), *([] if level is None else [level])])
    x = x_of(shown[0][0] - 0.5, shown[-1][0] + 0.5)
    every = -(-len(shown) // _MOST_TICKS)
    told = [
        f"lesson {number}, {_day(each.at)}, {each.kind or NO_KIND}: {form.format(value)}"
        for number, each, value in known
    ]
    places = [(x(number), y.at(value)) for number, _, value in known]
    return Plot(
        says=f"{name} by lesson: {'; '.join(told)}",
        x_ticks=tuple(Tick(x(number), str(number)) for number, _ in shown[::every]),
        y_ticks=_ticks(y),
        signs=tuple(Sign(*place, "neutral", text) for place, text in zip(places, told, strict=True)),
        curve=line(places),
        looks="" if level is None else line([(LEFT, y.at(level)), (RIGHT_EDGE, y.at(level))]),
    )


def _ticks(y: Scale) -> tuple[Tick, ...]:
    """Marks without a sign: none of these values is below nought."""
    return tuple(Tick(y.at(mark), f"{mark:g}") for mark in y.marks_d if mark >= 0.0)


def _row(number: int, each: LessonResult) -> LessonRow:
    apart = each.apart
    return LessonRow(
        number=number,
        day=_day(each.at),
        kind=each.kind or NO_KIND,
        lenses=_to_goal(f"{each.lenses}", each.goal_lenses),
        minutes=_to_goal(f"{each.minutes:.1f}", each.goal_minutes),
        sphere=f"{apart.sphere_d:+.2f}" if apart else "none",
        cylinder=f"{apart.cylinder_d:+.2f}" if apart else "none",
        axis="" if apart is None or apart.axis_deg is None else f"{apart.axis_deg:+.0f}",
        off=f"{apart.length_d:.2f}" if apart else "none",
    )


def _day(at: datetime) -> str:
    here = at.astimezone()
    return f"{here.day} {here:%b}"


def _to_goal(value: str, goal: float | None) -> str:
    return value if goal is None else f"{value} ({goal:g})"
