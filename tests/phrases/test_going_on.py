"""Behind entries an eye is theirs, or the next one: what decides is the word that follows it, or stands before it."""

import pytest

from tests.english import load
from tests.exam.typing import Typist
from voicelog.phrases import meanings as say
from voicelog.phrases.going_on import going_on
from voicelog.phrases.lines import TYPED, LineReader
from voicelog.session import Session
from voicelog.settings import Settings

READER = LineReader(load(), "line", *TYPED)


@pytest.mark.parametrize(
    ("line", "right", "left"),
    [
        ("vertical plus two, horizontal plus three, left eye now", 2, 0),
        ("vertical plus two, horizontal plus three, left eye", 0, 2),
        ("vertical plus two in the left eye now", 0, 1),
        ("left eye vertical plus two left eye now", 0, 1),
    ],
)
def test_now_behind_an_eye_goes_on_to_it(line: str, right: int, left: int) -> None:
    made = Session(Settings(naming="streak"))
    for each in ("right eye", "working distance 67", line):
        made.type_line(each)

    assert [len(made.state.eyes[eye].neutral) for eye in ("right", "left")] == [right, left]
    assert made.state.eye == "left"


def test_a_line_without_an_eye_stays_as_it_is() -> None:
    said = READER.understand("vertical plus two now").readings[0]
    assert going_on(load(), "vertical plus two now", said) == said


@pytest.mark.parametrize("line", ["axis 110 for the left eye", "same distance for the left"])
def test_what_names_an_eye_with_a_joining_word_is_of_that_eye(line: str) -> None:
    first, *rest = READER.understand(line).readings[0]
    assert first == say.Eye(eye="left")
    assert rest


@pytest.mark.parametrize("line", ["50 cm for the left eye", "plus two working lens in for the left eye"])
def test_what_can_name_its_eye_does(line: str) -> None:
    (said,) = READER.understand(line).readings[0]
    assert said.model_dump()["eye"] == "left"


def test_an_axis_before_a_bare_eye_is_asked_about() -> None:
    assert len(READER.understand("axis 110 left eye").readings) == 2


@pytest.mark.parametrize("line", ["right, I'm back, carry on", "right next patient"])
def test_right_before_an_order_names_no_eye(line: str) -> None:
    assert not any(isinstance(each, say.Eye) for each in READER.understand(line).readings[0])


def test_the_same_at_a_number_that_may_be_the_distance_is_asked_about() -> None:
    typist = Typist()
    for line in ("right eye", "working distance 50", "streak 90 plus two", "streak 180 plus three"):
        typist.type(line)

    said = typist.type("i'm at sixty seven same as ever")

    assert said.question is not None
    assert len(typist.state.eyes["right"].in_hand.readings) == 2
