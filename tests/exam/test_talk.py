"""What whole dictated examinations need beside plain entries: each line as it is said, and what then stands.

The examinations are ours; what a scribe who listens would write down is common practice, no source.
"""

import pytest

from tests.exam.typing import Typist, typed
from voicelog.exam.state import ExamState


def readings(state: ExamState) -> dict[str, dict[int, tuple[float, float | None]]]:
    """Of each eye the neutral readings that stand: meridian -> power of the lenses, and net."""
    return {
        name: {each.meridian_deg: (each.gross_d, each.net_d and round(each.net_d, 2)) for each in eye.neutral}
        for name, eye in state.eyes.items()
        if eye.passes
    }


RIGHT = "right eye\nworking distance 50\nstreak 90 plus 3\nstreak 180 plus 2"
EXAMS: dict[str, tuple[str, dict[str, dict[int, tuple[float, float | None]]]]] = {
    "an eye changed by the other's sign": (
        f"{RIGHT}\nleft eye\nstreak 90 minus 1\nstreak 180 minus 2\nall of the left is plus not minus\nyes",
        {"right": {180: (3, 1), 90: (2, 0)}, "left": {180: (1, -1), 90: (2, 0)}},
    ),
    "both of those": (
        f"{RIGHT}\nboth of those should be minus\nyes",
        {"right": {180: (-3, -5), 90: (-2, -4)}},
    ),
    "the two were the other eye's": (
        f"{RIGHT}\nleft eye\ni was on the left all along\nyes",
        {"left": {180: (3, 1), 90: (2, 0)}},
    ),
    "that is right says nothing of an eye": (
        f"left eye\n{RIGHT[10:]}\nthat's right",
        {"left": {180: (3, 1), 90: (2, 0)}},
    ),
    "one repair in the eye that is not in hand": (
        f"{RIGHT}\nleft eye\nstreak 90 plus 1\nthe right vertical is two and a half not three",
        {"right": {180: (2.5, 0.5), 90: (2, 0)}, "left": {180: (1, -1)}},
    ),
    "an axis in the eye that is not in hand": (
        "working distance 50\nleft eye\nsphere +3 cylinder -1 axis 10 neutral all round\nright eye\n"
        "sphere +3 cylinder -1 axis 30 neutral all round\nmake the axis fifteen in the left",
        {"left": {105: (2, 0), 15: (3, 1)}, "right": {120: (2, 0), 30: (3, 1)}},
    ),
    "the other one goes, the first is kept": (
        f"{RIGHT}\nscratch that\ndelete the other one\nno keep the vertical",
        {"right": {180: (3, 1)}},
    ),
    "the same of another pass": (
        f"{RIGHT}\nnext pass\nstreak 90 the same\nstreak 180 plus 2.5",
        {"right": {180: (3, 1), 90: (2.5, 0.5)}},
    ),
    "the lens that was taken": (
        "right eye\nworking distance 50\nstreak 90 with at 3\nminus two in\nstreak 90 slight with at minus 2\n"
        "minus two and a quarter in\nslight against\ni'll take two and a quarter",
        {"right": {180: (-2.25, -4.25)}},
    ),
    "a span settled by a size within it": (
        "right eye\nworking distance 50\nstreak 90 somewhere between two and two and a half minus\ncall it two and a quarter",
        {"right": {180: (-2.25, -4.25)}},
    ),
    "a step on nothing, then the lens": (
        "right eye\nworking distance 50\nup a half\nstreak 90 neutral at plus 3\nstreak 180 plus 2",
        {"right": {180: (3, 1), 90: (2, 0)}},
    ),
}


@pytest.mark.parametrize("title", EXAMS)
def test_an_examination_ends_as_a_scribe_would_have_it(title: str) -> None:
    lines, expected = EXAMS[title]

    _, state = typed(lines)

    assert readings(state) == expected
    assert state.dialogue.questions == ()


@pytest.mark.parametrize("lines", ["streak vertical plus", "streak 90 plus two and"])
def test_an_eye_before_an_entry_that_breaks_off_stands_and_the_entry_does_not(lines: str) -> None:
    typist = Typist()
    typist.type("left eye")

    line = typist.type(f"right eye {lines}")

    assert (typist.state.eye, line.outcome) == ("right", "asked")
    assert readings(typist.state) == {}


@pytest.mark.parametrize(
    "begun", ["streak horizontal plus", "horizontal is", "streak horizontal plus one and a", "horizontal at"]
)
def test_the_place_of_an_entry_that_breaks_off_is_the_one_in_hand(begun: str) -> None:
    """The power that comes then is of that place, and asked about so."""
    typist = Typist()
    for line in ("right eye", "streak vertical plus seven", begun):
        typist.type(line)

    assert typist.type("plus six").reply == "streak horizontal (power along 090) neutral at +6.00?"
    assert readings(typist.state) == {"right": {180: (7, None)}}


@pytest.mark.parametrize(
    ("size", "sign", "question"),
    [("3", "plus", None), ("3", "minus", None), ("2.5", "", "2.50: plus or minus?")],
)
def test_a_lens_that_is_taken_has_the_sign_it_was_looked_through_with(
    size: str, sign: str, question: str | None
) -> None:
    typist = Typist()
    for before in ("right eye", "working distance 50", f"streak 90 with at {sign or 'plus'} 3"):
        typist.type(before)

    line = typist.type(f"i'll take {size}")

    assert (line.reply if question else None) == question
    expected = {} if question else {180: 3.0 if sign == "plus" else -3.0}
    assert {each.meridian_deg: each.gross_d for each in typist.state.eyes["right"].neutral} == expected


@pytest.mark.parametrize("answer", ["yes", "cylinder minus one and a quarter"])
def test_a_power_that_may_be_the_cylinders_is_asked_about(answer: str) -> None:
    typist = Typist()
    for line in ("right eye", "sphere +3 cylinder -1 axis 90", "up to minus one and a quarter"):
        asked = typist.type(line)

    assert asked.question is not None
    typist.type(answer)

    lenses = typist.state.eyes["right"].lenses
    assert (lenses.sphere_d, lenses.cylinder_d) == ((-1.25, -1.0) if answer == "yes" else (3.0, -1.25))


def test_a_heard_number_alone_is_asked_about() -> None:
    typist = Typist()
    understood = typist.understand("sixty seven")

    line = typist.take(understood.readings[0], heard=True)

    assert (line.reply, typist.state.distance_cm) == ("working distance 67 cm?", None)
