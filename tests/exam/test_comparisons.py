"""Comparisons and remarks of whole exams, typed: which are made, of what, and what the log answers when asked."""

import pytest

from tests.exam.typing import exam, typed
from voicelog.exam.comparisons import comparisons
from voicelog.exam.remarks import DEFERRING, exam_remarks
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


BETWEEN = (None, "left eye's retinoscopy", [])


@pytest.mark.parametrize(
    ("more", "expected"),
    [
        ("", [BETWEEN]),
        (
            "spectacles right eye sphere minus one cylinder minus one fifty axis ninety",
            [("right", "previous spectacles", ["axis_turned"]), BETWEEN],
        ),
        (
            "refined right eye sphere minus one cylinder minus one fifty axis one seventy five",
            [("right", "refined result", []), BETWEEN],
        ),
        (
            "refined left eye sphere plus one cylinder minus one fifty axis one twenty",
            [("left", "refined result", ["allowance_taken_twice"]), BETWEEN],
        ),
        (
            "refined left eye sphere minus two cylinder minus one fifty axis one twenty",
            [("left", "refined result", ["allowance_forgotten"]), BETWEEN],
        ),
        (
            "spectacles right eye sphere plus one cylinder plus one fifty axis one eighty",
            [("right", "previous spectacles", ["signs_exchanged"]), BETWEEN],
        ),
        ("refined left eye cylinder minus one axis ninety", [BETWEEN]),
        ("right eye\nstreak vertical against at minus five", []),
    ],
)
def test_what_is_compared_and_asked(more: str, expected: list[tuple[str | None, str, list[str]]]) -> None:
    """The left eye's refined +1.00 is 1.50 off, which is the allowance; a sign lost would leave 0.50."""
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


def test_refined_results_stand_for_the_eyes_where_both_have_one() -> None:
    lines = READ + "refined right eye sphere minus one\nrefined left eye sphere plus one"

    assert comparisons(exam(lines))[-1].first_name == "right eye's refined result"


def remarked(lines: str) -> set[tuple[str, str | None]]:
    return {(each.id, each.about) for each in exam_remarks(exam(lines))}


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        (READ, set()),
        ("right eye\nscissors", {("scissors", "right")}),
        ("right eye\nno reflex\nleft eye\nscissors", {
            ("no_reflex", "right"), ("scissors", "left"), ("unequal_reflex", None)}),
        ("right eye\ndull reflex\nleft eye\ndull reflex", {("dull_reflex", "right"), ("dull_reflex", "left")}),
        ("right eye\ndull reflex", {("dull_reflex", "right")}),
        ("left eye\nchanging reflex", {("changing_reflex", "left")}),
        ("right eye\nrefined sphere minus seven", {("high_minus", "right"), ("vertex_not_noted", "right")}),
        ("right eye\nrefined sphere minus seven\nvertex twelve", {("high_minus", "right")}),
        ("right eye\nrefined sphere plus six\nvertex twelve", {("high_plus", "right")}),
        (
            "right eye\nrefined sphere plus one\nleft eye\nrefined sphere plus two",
            {("anisometropia", None)},
        ),
        ("right eye\nrefined sphere plus one cylinder minus three axis 90", {("large_cylinder", "right")}),
        ("acuity right eye unaided six sixty", set()),
        ("acuity right eye aided six eighteen", {("poor_acuity", "right")}),
        ("acuity right eye aided six eighteen\nacuity right eye refined six six", set()),
        ("acuity right eye refined counting fingers", {("poor_acuity", "right")}),
        ("acuity right eye aided six six\nacuity left eye aided six twelve", {("unequal_acuity", None)}),
        ("acuity right eye aided six six\nacuity left eye aided counting fingers", {("poor_acuity", "left")}),
        ("right eye\nestimate plus one", {("large_lag", "right")}),
        ("right eye\ndynamic target 50 neutral 40", {("lead", "right")}),
        ("pupils unequal", {("unequal_pupils", None)}),
        ("drops tetracaine one percent both eyes", {("drops_numbing", None)}),
        ("drops tropicamide one percent both eyes", {("drops", None)}),
        ("drops atropine one percent both eyes", {("drops", None), ("drops_atropine", None), ("drops_tone", None)}),
        (
            READ + "next pass\nstreak thirty neutral at plus three\nstreak one twenty neutral at plus one",
            {("passes_apart", "left"), ("anisometropia", None)},
        ),
    ],
)  # fmt: skip
def test_what_is_remarked_on(lines: str, expected: set[tuple[str, str | None]]) -> None:
    assert remarked(lines) == expected


def test_the_refined_result_goes_before_retinoscopy() -> None:
    """Retinoscopy alone gives -6.00; refined it is -5.50, which is not remarked on."""
    lines = (
        "working distance 50\nvertex twelve\nright eye\nstreak 90 neutral at minus four\n"
        "streak 180 neutral at minus four\n"
    )

    assert remarked(lines) == {("high_minus", "right")}
    assert remarked(lines + "refined sphere minus five fifty") == set()


def test_the_log_answers_when_it_is_asked() -> None:
    answers, _ = typed("read comparison\nread remarks\n" + READ + "scissors\nread comparison\nread remarks")

    assert answers[0].reply == "nothing to compare yet"
    assert answers[1].reply == "no remarks"
    assert answers[-2].reply.startswith(
        "right eye's retinoscopy -1.00 -1.50 x 180 against left eye's retinoscopy -0.50 -1.50 x 120: "
    )
    assert answers[-1].reply.startswith("left eye: scissors reflex: usual practice is to neutralise")
    assert answers[-1].reply.endswith(f". {DEFERRING}")
    assert all(each.entry is None for each in (answers[0], answers[1], answers[-1], answers[-2]))


def test_the_summary_holds_comparisons_and_remarks_with_their_sources() -> None:
    data = summary(
        exam(READ + "spectacles right eye sphere minus one cylinder minus one fifty axis ninety\nscissors")
    )

    first = data["comparisons"][0]
    assert (first["eye"], first["first"], first["second"]) == ("right", "retinoscopy", "previous spectacles")
    assert (first["m"], first["j0"], first["j45"]) == pytest.approx((0.0, 1.5, 0.0), abs=1e-9)
    assert first["usual"] is False
    assert first["questions"][0]["code"] == "axis_turned"
    (remark,) = data["remarks"]
    assert (remark["id"], remark["eye"]) == ("scissors", "left")
    assert remark["source"].startswith("Al-Mahrouqi")
