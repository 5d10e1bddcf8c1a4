"""What named the other eye and was not understood: what comes next and names no eye is not put to the eye in hand."""

import pytest

from tests.exam.typing import Typist
from voicelog.exam.state import ExamState
from voicelog.session import Session

BEGUN = ("right eye", "streak vertical plus two")


def said(*lines: str) -> tuple[list[str], ExamState]:
    """The last reply to each line, and the exam that the lines made."""
    typist = Typist()
    replies = [typist.type(line).replies[-1] for line in lines]
    return replies, typist.state


def gross(state: ExamState, eye: str) -> dict[int, float]:
    """Meridian of power in degrees -> lens that neutralised, dioptres."""
    return {each.meridian_deg: each.gross_d for each in state.eyes[eye].neutral}  # type: ignore[index]


@pytest.mark.parametrize(
    "half_said",
    [
        "left eye the meridian of bananas",
        "now over to left he is wiggling",
    ],
)
@pytest.mark.parametrize("eye", ["left", "right"])
def test_the_next_reading_asks_which_eye(half_said: str, eye: str) -> None:
    replies, state = said(*BEGUN, half_said, "streak horizontal plus one", eye)

    assert replies[-2] == "what named an eye before was not understood: which eye?"
    other = "left" if eye == "right" else "right"
    assert 90 in gross(state, eye)
    assert 90 not in gross(state, other)
    assert not state.dialogue.eye_unclear


def test_an_eye_before_a_place_whose_power_breaks_off_is_gone_to() -> None:
    replies, state = said(
        *BEGUN, "left eye, horizontal plus one and seventy-five", "streak horizontal plus one"
    )

    assert replies[-1].startswith("left eye: streak horizontal")
    assert gross(state, "right") == {180: 2.0}


def test_a_power_whose_meridian_is_asked_first_is_asked_for_its_eye_as_well() -> None:
    replies, state = said("right eye", "left eye the meridian of bananas", "plus one", "horizontal")

    assert replies[-1] == "what named an eye before was not understood: which eye?"
    assert gross(state, "right") == {}


def test_what_was_asked_of_before_it_keeps_its_eye() -> None:
    _, state = said("right eye", "streak vertical two fifty", "left eye the meridian of bananas", "plus")

    assert gross(state, "right") == {180: 2.5}


@pytest.mark.parametrize("named", ["left eye", "right eye"])
def test_an_eye_that_is_named_settles_it(named: str) -> None:
    replies, state = said(*BEGUN, "left eye the meridian of bananas", named, "streak horizontal plus one")

    assert replies[-1].startswith(f"{named}: streak horizontal")
    assert 90 in gross(state, named.split()[0])


@pytest.mark.parametrize(
    "talk", ["your left eye may water", "can you see the clock", "right, so the tea is at four"]
)
def test_talk_that_does_not_begin_with_the_other_eye_asks_nothing(talk: str) -> None:
    replies, state = said(*BEGUN, talk, "streak horizontal plus one")

    assert replies[-1].startswith("right eye: streak horizontal")
    assert gross(state, "right") == {180: 2.0, 90: 1.0}


def test_a_habit_that_is_said_counts_for_the_reading_that_waits_for_its_sign() -> None:
    """As for those before it: "ninety is two and a half", "always the meridian", "plus"."""
    _, state = said("right eye", "ninety is two and a half", "always the meridian", "plus")

    assert gross(state, "right") == {90: 2.5}


def test_a_first_eye_that_was_not_understood_lets_the_right_eye_be_the_second() -> None:
    replies, state = said(
        "left eye first bananas five",
        "streak vertical plus two",
        "streak horizontal plus one",
        "right eye now",
        "left",
    )

    assert "waits: which eye was streak vertical (090) neutral, sphere +2.00?" in replies[3]
    assert gross(state, "left") == {180: 2.0, 90: 1.0}
    assert state.eye == "right"


def test_what_waits_for_a_yes_to_its_eye_is_not_put_to_the_eye_that_comes_next() -> None:
    session = Session()
    for line in (
        "right eye",
        "meridian one eighty plus three",
        "left eye the meridian of ninety plus one and seventy five",
        "meridian one eighty plus one",
    ):
        session.type_line(line)
    said = session.type_line("right eye")

    assert said.replies[:2] == (
        "not entered: meridian vertical (090) neutral, sphere +1.75",
        "which eye was meridian horizontal (180) neutral, sphere +1.00?",
    )
    session.type_line("left")
    assert gross(session.state, "left") == {180: 1.0}
    assert gross(session.state, "right") == {180: 3.0}
    assert session.state.eye == "right"


def test_a_reading_behind_the_next_eye_is_not_the_one_that_was_asked_about_said_again() -> None:
    session = Session()
    for line in (
        "working distance 50",
        "right eye, vertical plus four, horizontal plus three and a half",
        "left eye, vertical plus three and three quarters",
        "the streak",
    ):
        session.type_line(line)

    assert gross(session.state, "right") == {180: 4.0, 90: 3.5}
    assert gross(session.state, "left") == {180: 3.75}
