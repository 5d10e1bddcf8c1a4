"""Comparisons of whole exams, typed: which are made, of what, and what the log answers when asked."""

import pytest

from tests.exam.typing import exam, typed
from voicelog.exam.comparisons import comparisons
from voicelog.exam.summary import summary

# Both eyes by two spheres at 2/3 m (domain notes, section 0c, rows 1 and 2): -1.00 -1.50 x 180 and -0.50 -1.50 x 120.
READ = """working distance 66.7
right eye
streak vertical neutral at plus a half
streak horizontal neutral at minus one
left eye
streak thirty neutral at plus one
streak one twenty neutral at minus a half
"""


def codes(lines: str) -> list[tuple[str | None, str, list[str]]]:
    """Eye, what retinoscopy was compared with, and the codes of the questions."""
    return [
        (each.eye, each.second_name, [question.code for question in each.questions])
        for each in comparisons(exam(lines))
    ]


BETWEEN: tuple[str | None, str, list[str]] = (None, "left eye's retinoscopy", [])


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ("", [BETWEEN]),
        (
            "spectacles right eye sphere minus one cylinder minus one fifty axis ninety",
            [("right", "spectacles worn", ["axis_turned"]), BETWEEN],
        ),
        (
            "refined right eye sphere minus one cylinder minus one fifty axis one seventy five",
            [("right", "subjective", []), BETWEEN],
        ),
        (
            "refined left eye sphere plus one cylinder minus one fifty axis one twenty",
            [("left", "subjective", ["allowance_taken_twice"]), BETWEEN],
        ),
        (
            "refined left eye sphere minus two cylinder minus one fifty axis one twenty",
            [("left", "subjective", ["allowance_forgotten"]), BETWEEN],
        ),
        (
            "spectacles right eye sphere plus one cylinder plus one fifty axis one eighty",
            [("right", "spectacles worn", ["signs_exchanged"]), BETWEEN],
        ),
        ("right eye\nstreak vertical against at minus five", []),
    ],
)
def test_what_is_compared_and_asked(more: str, expected: list[tuple[str | None, str, list[str]]]) -> None:
    """The left eye's subjective +1.00 is 1.50 off, which is the allowance; a sign lost would leave 0.50."""
    assert codes(READ + more) == expected


def test_swapped_eyes_are_asked_about_between_the_eyes() -> None:
    worn = "spectacles right eye {}\nspectacles left eye {}"
    right = "sphere minus one cylinder minus one fifty axis one eighty"
    left = "sphere minus a half cylinder minus one fifty axis one twenty"

    assert codes(READ + worn.format(right, left))[-1] == BETWEEN
    assert codes(READ + worn.format(left, right))[-1] == (None, BETWEEN[1], ["eyes_swapped"])


def test_each_pass_is_compared_with_the_one_before() -> None:
    found = codes(
        READ + "next pass\nstreak thirty neutral at plus one\nstreak one twenty neutral at minus a half\n"
        "next pass\nstreak one twenty neutral at plus one\nstreak thirty neutral at minus a half"
    )

    assert found[:2] == [("left", "pass 1", []), ("left", "pass 2", ["axis_turned"])]


def test_subjective_results_stand_for_the_eyes_where_both_have_one() -> None:
    lines = READ + "refined right eye sphere minus one\nrefined left eye sphere plus one"

    assert comparisons(exam(lines))[-1].first_name == "right eye's subjective"


def test_the_log_answers_when_it_is_asked() -> None:
    answers, _ = typed(f"read comparison\n{READ}read comparison")

    assert answers[0].reply == "nothing to compare yet"
    assert answers[-1].reply.startswith(
        "right eye's retinoscopy -1.00 -1.50 x 180 and left eye's retinoscopy -0.50 -1.50 x 120: "
    )
    assert answers[0].entries == answers[-1].entries == ()


def test_the_summary_holds_comparisons() -> None:
    data = summary(exam(f"{READ}spectacles right eye sphere minus one cylinder minus one fifty axis ninety"))

    first = data["comparisons"][0]
    assert (first["eye"], first["first"], first["second"]) == ("right", "retinoscopy", "spectacles worn")
    assert (first["m"], first["j0"], first["j45"]) == pytest.approx((0.0, 1.5, 0.0), abs=1e-9)
    assert first["usual"] is False
    assert first["questions"][0]["code"] == "axis_turned"
