"""Remarks of whole exams, typed: on what they are made, and what the log answers when asked."""

import pytest

from tests.exam.typing import exam, typed
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


def remarked(lines: str, age: str = "age thirty") -> set[tuple[str, str | None]]:
    return {(each.id, each.about) for each in exam_remarks(exam(f"{age}\n{lines}"))}


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        (READ, set()),
        ("right eye\nscissors", {("scissors", "right")}),
        ("right eye\nno reflex\nleft eye\nscissors", {
            ("no_reflex", "right"), ("scissors", "left"), ("unequal_reflex", None)}),
        ("right eye\nwhite reflex\nleft eye\ngood red reflex", {("white_reflex", "right"), ("unequal_reflex", None)}),
        ("drops phenylephrine ten percent both eyes", {("drops", None), ("drops_phenylephrine_strong", None)}),
        ("right eye\nrefined sphere plus one\nleft eye\nrefined sphere plus two cylinder minus two axis one eighty", {
            ("anisometropia_cylinder", None)}),
        ("right eye\ndull reflex\nleft eye\ndull reflex", {("dull_reflex", "right"), ("dull_reflex", "left")}),
        ("right eye\ndull reflex", {("dull_reflex", "right")}),
        ("left eye\nchanging reflex", {("changing_reflex", "left")}),
        ("right eye\nrefined sphere minus seven", {("high_minus", "right"), ("vertex_not_noted", "right")}),
        ("right eye\nrefined sphere minus seven\nvertex twelve", {("high_minus", "right"), ("at_cornea", "right")}),
        ("right eye\nrefined sphere plus six\nvertex twelve", {("high_plus", "right"), ("at_cornea", "right")}),
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


def test_the_subjective_result_goes_before_retinoscopy() -> None:
    """Retinoscopy alone gives -6.00; subjectively it is -5.50, which is not remarked on."""
    lines = (
        "working distance 50\nvertex twelve\nright eye\nstreak 90 neutral at minus four\n"
        "streak 180 neutral at minus four\n"
    )

    assert remarked(lines) == {("high_minus", "right"), ("at_cornea", "right")}
    assert remarked(lines + "refined sphere minus five fifty") == {("at_cornea", "right")}


def test_the_log_answers_when_it_is_asked() -> None:
    answers, _ = typed(f"read remarks\nage thirty\n{READ}scissors\nread remarks")

    assert answers[0].reply == "no remarks"
    assert answers[-1].reply.startswith("left eye: scissors reflex: usual practice is to ")
    assert answers[-1].reply.endswith(f". {DEFERRING}")
    assert answers[0].entries == answers[-1].entries == ()


def test_the_summary_holds_remarks_with_their_sources() -> None:
    (remark,) = summary(exam(f"age thirty\n{READ}scissors"))["remarks"]

    assert (remark["id"], remark["eye"]) == ("scissors", "left")
    assert remark["source"].startswith("Al-Mahrouqi")
