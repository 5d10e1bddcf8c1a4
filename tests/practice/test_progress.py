"""Progress: a week of lessons adds up, a kill in the middle of a write loses one line at most, and kinds come again."""

import json
import os
import stat
from datetime import UTC, datetime, timedelta
from io import StringIO
from itertools import pairwise
from pathlib import Path
from statistics import fmean

import pytest
from rich.console import Console

from tests.practice.running import Run
from voicelog.exam.guidance import data
from voicelog.page.progressing import MOST_LESSONS, progress_view
from voicelog.practice.bars import bars
from voicelog.practice.exercise import Exercise
from voicelog.practice.kinds import KINDS, kind_named
from voicelog.practice.lesson import Lesson
from voicelog.practice.progress import Progress, ProgressError, keep, kept, progress_path
from voicelog.practice.results import LessonResult, result_of
from voicelog.practice.returning import is_right, returns
from voicelog.practice.summing import summed_up, usual_length_d
from voicelog.practice.tables import print_progress, progress_words
from voicelog.settings import Settings

MONDAY = datetime(2026, 3, 2, 9, tzinfo=UTC)
OFF_D = (1.0, 0.75, -0.5, 0.5, 0.25, 0.0, 0.25, -0.25, 0.0, 0.0, 0.25, 0.0)
"""By how much the learner's sphere is off, lesson by lesson: two a day for six days, better towards the end."""


def lesson(number: int) -> LessonResult:
    """A lesson typed through the log: both meridians of a sphere, off by as much as that day."""
    exercise = Exercise(kind_named("spheres").model(1), 1, distance_cm=50.0, kind="spheres")
    seconds = iter((0.0, 60.0 + number))
    held = Lesson(exercise, Settings(), clock=lambda: next(seconds))
    gross = exercise.model.refraction.sphere_d + 2.0 + OFF_D[number]
    for line in (
        "right eye",
        "working distance 50",
        f"streak vertical neutral at {gross:+.2f}",
        f"streak horizontal neutral at {gross:+.2f}",
        "done",
    ):
        held.type_line(line)
    assert held.ended
    return result_of(held, MONDAY + timedelta(days=number // 2, hours=number % 2))


@pytest.fixture(scope="module", name="week")
def _week() -> tuple[LessonResult, ...]:
    return tuple(lesson(number) for number in range(12))


def store(path: Path, lessons: tuple[LessonResult, ...]) -> Path:
    for each in lessons:
        keep(each, path)
    return path


def test_a_week_adds_up(week: tuple[LessonResult, ...], tmp_path: Path) -> None:
    progress = kept(store(tmp_path / "week.jsonl", week))
    (found,) = summed_up(progress.lessons)

    assert progress == Progress(week, 0)
    assert [round(each.apart.sphere_d, 6) for each in progress.lessons if each.apart] == list(OFF_D)
    assert (found.kind, found.lessons, found.with_result) == ("spheres", 12, 12)
    assert found.right == sum(abs(off) <= 0.375 for off in OFF_D) == 8
    assert found.m_d == pytest.approx(sum(OFF_D) / 12)
    assert found.length_d == pytest.approx(sum(map(abs, OFF_D)) / 12)
    assert found.j0_d == pytest.approx(0.0, abs=1e-9)
    assert found.axis_deg is None
    assert found.minutes == pytest.approx(fmean(60 + number for number in range(12)) / 60)
    assert found.usual == sum(abs(off) <= 0.54 for off in OFF_D) == 10


def test_the_usual_scatter_is_the_published_one() -> None:
    """Harvey et al. 2000: 0.41 D and twice 0.18 D as vector dioptric distance, which is the square root of 2 longer."""
    assert usual_length_d() == pytest.approx((0.41 + 2 * 0.18) / 2**0.5, abs=0.01)
    assert "Harvey" in next(each.source for each in data().limit if each.id == "usual_difference_d")


def test_a_kill_in_the_middle_of_a_write_loses_that_line_alone(
    week: tuple[LessonResult, ...], tmp_path: Path
) -> None:
    """The file is cut at every byte of its last line; what was there before, and what comes next, is read."""
    path = store(tmp_path / "torn.jsonl", week[:3])
    content = path.read_bytes()
    start = content[:-1].rindex(b"\n") + 1
    for end in range(start, len(content), 7):
        path.write_bytes(content[:end])
        keep(week[3], path)
        found = kept(path)
        assert found.lessons == (*week[:2], week[3])
        assert found.unread == (end > start)
    path.write_bytes(content[:-1])  # whole but for the end of the line
    keep(week[3], path)
    assert kept(path) == Progress(week[:4], 0)


def test_the_store_is_its_owners_alone_and_grows_only(week: tuple[LessonResult, ...], tmp_path: Path) -> None:
    path = store(tmp_path / "own" / "store.jsonl", week[:1])
    before = path.read_bytes()
    keep(week[1], path)

    assert path.read_bytes().startswith(before)
    if os.name == "posix":
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_lines_that_are_no_lessons_are_left_out_and_told(
    week: tuple[LessonResult, ...], tmp_path: Path
) -> None:
    good = week[0].model_dump_json()
    bad = [
        good.replace('"spheres"', '"unheard of"'),
        good.replace('"version":1', '"version":2'),
        good[:-1] + ',"more":1}',
        "\x00",
    ]
    path = tmp_path / "odd.jsonl"
    path.write_text("\n".join([*bad, good, ""]), encoding="utf-8")
    found = kept(path)

    assert found == Progress(week[:1], len(bad))
    assert "4 lines of the store cannot be read and are left out." in list(progress_words(found, MONDAY))


def test_a_store_that_cannot_be_used_is_one_line(week: tuple[LessonResult, ...], tmp_path: Path) -> None:
    for use in (kept, lambda path: keep(week[0], path)):
        with pytest.raises(ProgressError, match="cannot be") as raised:
            use(tmp_path)
        assert "\n" not in str(raised.value)


def test_what_went_wrong_comes_again_sooner(week: tuple[LessonResult, ...]) -> None:
    """By the rule: the next day after a wrong one, then 2, 4, 8 and 16 days after each right one running."""
    wrong, right = week[0], week[5]
    assert (is_right(wrong), is_right(right)) == (False, True)

    for times, days in ((0, 1), (1, 2), (2, 4), (3, 8), (4, 16), (9, 16)):
        lessons = [
            wrong,
            *(right.model_copy(update={"at": MONDAY + timedelta(hours=n)}) for n in range(times)),
        ]
        (found,) = [each for each in returns(lessons, MONDAY) if each.kind.name == "spheres"]
        assert found.due == lessons[-1].at + timedelta(days=days)
        assert found.right == times


def test_due_kinds_come_first_then_new_ones_then_the_rest(week: tuple[LessonResult, ...]) -> None:
    wrong, right = week[0], week[5].model_copy(update={"at": MONDAY})
    high = wrong.model_copy(update={"kind": "high", "at": MONDAY - timedelta(days=3)})
    child = right.model_copy(update={"kind": "child"})
    order = [each.kind.name for each in returns([wrong, high, child], MONDAY + timedelta(days=1, minutes=1))]

    assert order[:2] == ["high", "spheres"]
    assert order[-1] == "child"
    assert order[2:-1] == [kind.name for kind in KINDS if kind.name not in ("high", "spheres", "child")]


def test_the_tables_fit_eighty_columns(week: tuple[LessonResult, ...]) -> None:
    """The widest names and numbers there are."""
    apart = week[0].apart
    assert apart is not None
    wide = apart.model_copy(update={"axis_deg": -45.0, "cylinder_d": -1.25, "j0_d": -0.75, "j45_d": -0.25})
    lessons = [
        each.model_copy(
            update={
                "kind": "against-the-rule",
                "technique": "sphere-cylinder",
                "apart": wide,
                "lenses": 99,
                "seconds": 1500.0,
            }
        )
        for each in week
    ]
    text = StringIO()
    print_progress(Progress(tuple(lessons), 0), MONDAY, Console(file=text, width=80, highlight=False))

    assert "…" not in text.getvalue()
    assert "against-the-rule" in text.getvalue()
    assert all(len(line) <= 80 for line in text.getvalue().splitlines())


def test_the_plot_of_text_has_a_bar_a_lesson_as_long_as_its_error(week: tuple[LessonResult, ...]) -> None:
    """By hand: the largest error, 1 D, has 44 cells; half a dioptre 22; the stroke stands at 44 times 0.54."""
    told = list(bars(week))

    assert [float(each[24:28]) for each in told] == [abs(off) for off in OFF_D]
    assert [each.count("█") for each in told] == [round(44 * abs(off)) for off in OFF_D]
    assert [each.index("│") - 29 for each in told if "│" in each] == [24] * 10
    assert all(len(each) <= 80 for each in told)
    none = week[0].model_copy(update={"apart": None, "found": None})
    assert next(bars([none])).endswith("none")


def test_the_page_plots_every_lesson_where_its_value_says(week: tuple[LessonResult, ...]) -> None:
    """The place of each point between the marks of its axis, against the value in the store."""
    values = {
        "error": [abs(off) for off in OFF_D],
        "lenses": [float(each.lenses) for each in week],
        "minutes": [1.0 + number / 60.0 for number in range(12)],
    }
    for (_, plot), (name, expected) in zip(
        progress_view(Progress(week), MONDAY).plots, values.items(), strict=True
    ):
        low, high = plot.y_ticks[0], plot.y_ticks[-1]
        unit = (low.at - high.at) / (float(high.text) - float(low.text))
        shown = [float(low.text) + (low.at - sign.y) / unit for sign in plot.signs]
        across = [sign.x for sign in plot.signs]
        gaps = [after - before for before, after in pairwise(across)]

        assert plot.says.startswith(name)
        assert shown == pytest.approx(expected, abs=0.02)
        assert gaps == pytest.approx([gaps[0]] * 11, abs=0.2)
        assert gaps[0] > 20.0


def test_the_page_shows_the_latest_lessons_in_the_order_of_time(week: tuple[LessonResult, ...]) -> None:
    """Two machines' files put together; a lesson without a result has a row and no point."""
    many = [
        week[n % 12].model_copy(update={"at": MONDAY + timedelta(hours=n), "lenses": n}) for n in range(50)
    ]
    many[49] = many[49].model_copy(update={"apart": None, "found": None})
    view = progress_view(Progress((*many[25:], *many[:25])), MONDAY)

    assert view.left_out == 50 - MOST_LESSONS
    assert [row.number for row in view.rows] == list(range(11, 51))
    assert [row.lenses for row in view.rows] == [f"{n} (10)" for n in range(10, 50)]
    assert view.rows[-1].off == "none"
    assert [len(plot.signs) for _, plot in view.plots] == [39, 40, 40]
    assert progress_view(Progress(), MONDAY).plots == ()


def test_progress_of_the_command(run: Run) -> None:
    assert "No lesson was kept yet" in run("--progress")[1]
    assert "Goal: 10 lenses" in " ".join(run("--kind", "next")[1].split())

    run("--kind", "spheres", "--seed", "1", stdin="right eye\nstreak vertical\ndone\n")
    found = json.loads(run("--progress", "--json")[1])

    assert [each["mistake"] for each in found["lessons"]] == ["unfinished"]
    assert found["kinds"][0]["lessons"] == 1
    assert found["next"][0]["kind"] == "with-the-rule"
    assert "Next: with the rule" in run("--progress")[1]


def test_a_store_that_cannot_be_written_does_not_lose_the_lesson(run: Run) -> None:
    progress_path().mkdir(parents=True)
    status, out, err = run("--kind", "spheres", "--seed", "1", stdin="right eye\nstreak vertical\ndone\n")

    assert status == 0
    assert "true" in out
    assert "NOT KEPT" in err
    assert len(err.splitlines()) == 1
