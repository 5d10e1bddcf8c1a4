"""What named a distance and was not understood: what is read next is not put to the distance of before in silence."""

import pytest

from tests.exam.typing import Typist
from voicelog.exam.state import ExamState
from voicelog.session import Session

LOST = "closing bananas to thirty three centimetres"
ASKS = "what named a distance before was not understood: is it 67 cm?"


def said(*lines: str) -> tuple[list[str], ExamState]:
    """The last reply to each line, and the exam that the lines made."""
    typist = Typist()
    return [typist.type(line).replies[-1] for line in lines], typist.state


def distances(state: ExamState) -> dict[int, float | None]:
    """Meridian of power in degrees -> distance of its reading in the right eye, centimetres."""
    return {each.meridian_deg: each.distance_cm for each in state.eyes["right"].neutral}


@pytest.mark.parametrize(("answer", "cm"), [("yes", 67.0), ("fifty", 50.0), ("no, fifty centimetres", 50.0)])
def test_the_next_reading_asks_which_distance_and_what_follows_waits(answer: str, cm: float) -> None:
    replies, state = said(
        "working distance 67",
        "right eye",
        LOST,
        "streak vertical plus two",
        "streak horizontal plus one",
        answer,
    )

    assert replies[3] == ASKS
    assert "waits" in replies[4]
    assert distances(state) == {180: cm, 90: cm}
    assert not state.dialogue.distance_unclear


@pytest.mark.parametrize(("second", "kept"), [("thirty three", {180: 33.0}), ("no", {}), ("yes", {})])
def test_no_asks_which_distance_it_is(second: str, kept: dict[int, float]) -> None:
    replies, state = said("working distance 67", "right eye", LOST, "streak vertical plus two", "no", second)

    assert replies[4] == "which distance is it?"
    assert distances(state) == kept


def test_a_distance_within_other_words_puts_the_one_before_in_doubt() -> None:
    replies, _ = said(
        "working distance 67",
        "left eye",
        "kid won't let me back up, I'm at forty now for this one",
        "streak vertical plus two",
    )

    assert replies[3] == ASKS


def test_a_distance_that_is_said_again_settles_it() -> None:
    replies, state = said(
        "working distance 67", "right eye", LOST, "working distance 33", "streak vertical plus two"
    )

    assert "?" not in replies[-1]
    assert distances(state) == {180: 33.0}


@pytest.mark.parametrize(("answer", "before"), [("yes", 50.0), ("no", None)])
def test_the_first_that_is_understood_asks_whether_it_was_so_before(
    answer: str, before: float | None
) -> None:
    replies, state = said(
        "right eye",
        LOST,
        "streak vertical plus two",
        "working distance 50",
        answer,
        "streak horizontal plus one",
    )

    assert replies[3] == "working distance 50 cm: does it hold for the reading before as well?"
    assert distances(state) == {180: before, 90: 50.0}


def test_a_distance_behind_the_next_eye_answers_nothing_that_was_asked_of_the_eye_before() -> None:
    session = Session()
    session.type_line("working distance 67")
    session.type_line("right eye")
    for line in ("the distance bananas to thirty three centimetres", "streak vertical plus two", "left eye"):
        session.type_line(line)
    said = session.type_line("working distance 67")

    assert "working distance 67 cm waits: did you say: working distance 33 cm?" in said.reply
    session.type_line("yes")
    (reading,) = session.state.eyes["right"].neutral
    assert reading.distance_cm == 33.0
    assert session.state.distance_cm == 67.0
