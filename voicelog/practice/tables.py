"""Tables of practice at the terminal: the results of a set, and the learner's progress."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import Any, Final

from rich.console import Console
from rich.table import Table

from voicelog.practice.bars import bars
from voicelog.practice.kinds import kind_named
from voicelog.practice.progress import Progress
from voicelog.practice.results import Apart, LessonResult
from voicelog.practice.returning import LONGEST_DAYS, returns, wait_days
from voicelog.practice.summing import Summed, summed_up, usual_length_d

_LATEST: Final = 12
_BY: Final = {"spheres": "s", "sphere-cylinder": "s+c", "cylinders": "c"}
_LATEST_WORDS: Final = """\
The latest lessons. By: s spheres, s+c sphere and cylinder, c cylinders.
R right, L left. Best: lenses of the most telling order. The rest: logged less true."""
_BARS_WORDS: Final = "Error of the same lessons, D; the stroke: as near as two examiners come."
_SUMS_WORDS: Final = """\
By kind, means (goals in brackets). Over: lenses above the best. M, J0, J45:
mean error. Off: mean length of the error as a power vector, D. Axis: mean size."""
NO_KIND: Final = "any eye"


def set_table(results: Sequence[LessonResult]) -> Table:
    """The lessons of a set, with goals."""
    table = _table("kind", "true", "logged", "apart", "lenses (goal)", "minutes (goal)")
    for each in results:
        table.add_row(
            each.kind or NO_KIND,
            str(each.truth.lens),
            str(each.found.lens) if each.found else "no result",
            f"{each.apart.largest_d:.2f}" if each.apart else "",
            _to_goal(f"{each.lenses}", each.goal_lenses),
            _to_goal(f"{each.minutes:.1f}", each.goal_minutes),
        )
    return table


def set_words(results: Sequence[LessonResult], wanted: int) -> Iterator[str]:
    """Under the table of a set: how much was done, and what went wrong first in each lesson."""
    yield f"{len(results)} of {wanted} done; apart: dioptres, the most in any meridian"
    for number, each in enumerate(results, start=1):
        if each.mistake is not None:
            yield f"lesson {number}, first mistake: {each.mistake.replace('_', ' ')}"


def print_progress(progress: Progress, now: datetime, console: Console | None = None) -> None:
    """The latest lessons, the sums, and what comes next."""
    console = console or Console(highlight=False)
    if progress.lessons:
        console.print(_LATEST_WORDS, _latest(progress.lessons[-_LATEST:]), "", sep="\n")
        console.print(_BARS_WORDS, markup=False)
        for bar in bars(progress.lessons[-_LATEST:]):
            console.print(bar, markup=False)
        console.print()
        console.print(_SUMS_WORDS, _sums(summed_up(progress.lessons)), "", sep="\n")
    for line in progress_words(progress, now):
        console.print(line, markup=False)


def progress_words(progress: Progress, now: datetime) -> Iterator[str]:
    """What the tables are to be read by, and which kinds come next; one line each."""
    if not progress.lessons:
        yield "No lesson was kept yet. A lesson is kept when it ends with done."
    else:
        with_result = [each.apart for each in progress.lessons if each.apart]
        usual = sum(each.length_d <= usual_length_d() for each in with_result)
        yield (
            f"{usual} of {len(with_result)} results lie within {usual_length_d():.2f} D of the truth. Two examiners "
            "come as near to each other as that (published, with drops; length of the power vector)."
        )
    if progress.unread:
        many = "1 line" if progress.unread == 1 else f"{progress.unread} lines"
        yield f"{many} of the store cannot be read and {'is' if progress.unread == 1 else 'are'} left out."
    first = returns(progress.lessons, now)[0]
    if first.due is None:
        when = "it is new"
    elif first.due <= now:
        when = "it is due"
    else:
        when = f"it is due on {first.due.astimezone():%d %B}"
    yield f"Next: {first.kind.title} ({when}). Say: voicelog practice --kind next"
    yield (
        f"What went wrong comes again after {wait_days(0)} day. What went right waits {wait_days(1)} days, then "
        f"twice as long each time, {LONGEST_DAYS} days at most."
    )


def progress_data(progress: Progress, now: datetime) -> dict[str, Any]:
    """The progress as plain data; powers in dioptres, angles in degrees."""
    return {
        "lessons": [result_data(each) for each in progress.lessons],
        "kinds": [asdict(each) for each in summed_up(progress.lessons)],
        "usual_length_d": usual_length_d(),
        "unread": progress.unread,
        "next": [
            {"kind": each.kind.name, "due": each.due.isoformat() if each.due else None, "right": each.right}
            for each in returns(progress.lessons, now)
        ],
    }


def result_data(result: LessonResult) -> dict[str, Any]:
    """One lesson as plain data, with its goals."""
    goals = {"goal_lenses": result.goal_lenses, "goal_minutes": result.goal_minutes}
    return result.model_dump(mode="json") | goals


def _latest(lessons: Sequence[LessonResult]) -> Table:
    table = _table("day", "kind", "by", "", "lens", "best", "min", "sph", "cyl", "axis", "M", "J0", "J45")
    for each in lessons:
        apart = each.apart
        table.add_row(
            f"{each.at.astimezone():%d %b}",
            each.kind or NO_KIND,
            _BY[each.technique],
            each.eye[0].upper(),
            str(each.lenses),
            _number(each.telling_lenses, "d"),
            f"{each.minutes:.1f}",
            *(_errors(apart) if apart else ("none",)),
        )
    return table


def _errors(apart: Apart) -> tuple[str, ...]:
    return (
        f"{apart.sphere_d:+.2f}",
        f"{apart.cylinder_d:+.2f}",
        _number(apart.axis_deg, "+.0f"),
        *(f"{value:+.2f}" for value in (apart.m_d, apart.j0_d, apart.j45_d)),
    )


def _sums(sums: Sequence[Summed]) -> Table:
    table = _table("kind", "n", "right", "lenses", "over", "minutes", "M", "J0", "J45", "off", "axis")
    for each in sums:
        kind = kind_named(each.kind) if each.kind else None
        table.add_row(
            each.kind or NO_KIND,
            str(each.lessons),
            str(each.right),
            _to_goal(f"{each.lenses:.1f}", kind.goal_lenses if kind else None),
            _number(each.lenses_over_telling, "+.1f"),
            _to_goal(f"{each.minutes:.1f}", kind.goal_minutes if kind else None),
            *(_number(value, "+.2f") for value in (each.m_d, each.j0_d, each.j45_d)),
            _number(each.length_d, ".2f"),
            _number(each.axis_deg, ".0f"),
        )
    return table


def _table(*headings: str) -> Table:
    """A table that eighty columns hold."""
    table = Table(box=None, pad_edge=False, padding=(0, 1, 0, 0))
    for heading in headings:
        table.add_column(heading, no_wrap=True)
    return table


def _number(value: float | None, form: str) -> str:
    return "" if value is None else format(value, form)


def _to_goal(value: str, goal: float | None) -> str:
    return value if goal is None else f"{value} ({goal:g})"
