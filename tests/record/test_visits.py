"""The exams of one reference side by side: whose they are, what changed, and how fast."""

import json
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from voicelog.cli import main
from voicelog.page.visits import course_view
from voicelog.record.errors import NoSuchExamError
from voicelog.record.journal import Journal
from voicelog.record.visits import Course, courses, exams_of

from .cases import MORNING, dictated


def seen(journal: Journal, reference: str, sphere: str, after_days: int, *more: str) -> str:
    """An exam at 50 cm (2.00 D off) whose right eye is neutral with one sphere all round."""
    at: datetime = MORNING + timedelta(days=after_days)
    both = (f"streak 90 neutral {sphere}", f"streak 180 neutral {sphere}")
    return dictated(journal, ("working distance 50", *more, "right eye", *both), reference, at)[0].exam


def course(journal: Journal, reference: str) -> list[Course]:
    return list(courses(exams_of(journal, reference)))


def test_visits_of_one_reference_are_compared_in_order(journal: Journal) -> None:
    """Net -1.00, -1.25 and -2.25 in two years of 731 days: the second step is more than 0.54 D, the first is not."""
    seen(journal, "k-17", "-0.25", 731)
    seen(journal, "K-17", "+1.00", 0)
    seen(journal, "k-17", "+0.75", 365)
    seen(journal, "k-170", "+5.00", 30)
    seen(journal, "", "+5.00", 40)

    (found,) = course(journal, "k-17")

    assert [each.m_d for each in found.visits] == [-1.0, -1.25, -2.25]
    assert [each.apart.vector.m_d for each in found.changes] == [-0.25, -1.0]
    assert [each.usual for each in found.changes] == [True, False]
    assert found.yearly is not None
    # Errors are alike, so the line is that of equal weights: by hand from 0, 365 and 731 days.
    assert found.yearly.per_year_d == pytest.approx(-0.6248, abs=0.001)


def test_dry_and_wet_have_courses_of_their_own(journal: Journal) -> None:
    seen(journal, "k", "+1.00", 0)
    seen(journal, "k", "+2.00", 200, "drops cyclopentolate 1% both")

    found = course(journal, "k")

    assert [(each.condition, len(each.visits), each.yearly) for each in found] == [
        ("dry", 1, None),
        ("wet", 1, None),
    ]


def test_an_unknown_reference_is_said(journal: Journal) -> None:
    seen(journal, "k-170", "+1.00", 0)

    with pytest.raises(NoSuchExamError, match="there is no exam of the reference 'k-17'"):
        exams_of(journal, "k-17")
    with pytest.raises(NoSuchExamError):
        exams_of(journal, " ")


def test_the_page_marks_what_is_more_than_the_usual_scatter_and_draws_the_course(journal: Journal) -> None:
    seen(journal, "k", "+1.00", 0)
    seen(journal, "k", "+0.75", 365)
    seen(journal, "k", "-0.25", 731)

    (shown,) = (course_view(each) for each in course(journal, "k"))

    assert [(each.refraction, each.unusual) for each in shown.rows] == [
        ("-1.00 DS", False),
        ("-1.25 DS", False),
        ("-2.25 DS", True),
    ]
    assert shown.rate.startswith("M -0.62 D a year (")
    assert shown.plot is not None
    assert [sign.says for sign in shown.plot.signs] == [
        f"{row.day}: M {power}" for row, power in zip(shown.rows, ("-1.00", "-1.25", "-2.25"), strict=True)
    ]


def test_the_command_in_words_and_as_data(
    monkeypatch: pytest.MonkeyPatch, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("VOICELOG_DATA", str(folder))
    with Journal.open() as journal:
        seen(journal, "k-17", "+1.00", 0)
        seen(journal, "k-17", "-0.25", 731)

    assert main(["visits", "k-17"]) == 0
    said = capsys.readouterr().out.splitlines()
    assert said[0] == "right eye, dry:"
    assert said[1].split() == ["2025-11-25", "-1.00", "DS"]
    assert "1.25 D apart" in said[2]
    assert "more than the usual scatter" in said[2]
    assert said[3].startswith("  M -0.62 D a year (")

    assert main(["visits", "k-17", "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert [each["m_d"] for each in data["eyes"][0]["changes"]] == [-1.25]

    assert main(["visits", "nobody"]) == 2
    assert capsys.readouterr().err == "voicelog: there is no exam of the reference 'nobody'\n"
