"""Which tone and which words follow what was said."""

import pytest

from tests.session.test_session import hearing
from voicelog.exam.events import Event, Line
from voicelog.exam.state import ExamState
from voicelog.live.feedback import Feedback, ReadBack, feedback
from voicelog.session import Session
from voicelog.speaking.tones import Signal

BEFORE = ("working distance 67", "right eye")


def answer(
    text: str, mode: ReadBack = "short", log: float = -1.0, before: tuple[str, ...] = BEFORE
) -> Feedback:
    """The feedback to a phrase that is heard."""
    session = Session()
    for line in before:
        session.type_line(line)
    said = session.take_heard(hearing(text, log))
    return feedback(said, session.state, mode)


@pytest.mark.parametrize(
    ("text", "short", "full"),
    [
        (
            "streak vertical neutral at plus three",
            "plus three",
            "right eye: streak vertical neutral, sphere plus three",
        ),
        (
            "streak 35 against at minus 1",
            "against, minus one",
            "right eye: streak thirty five against, sphere minus one",
        ),
        ("left eye", "left", "left eye"),
        ("working distance 50", "fifty, five zero", "working distance fifty, five zero centimetres"),
        (
            "streak 35 neutral with cylinder -1.25 axis 35",
            "cylinder minus one point two five axis thirty five",
            "right eye: streak thirty five neutral, cylinder minus one point two five axis thirty five",
        ),
    ],
)
def test_an_entry_is_read_back_as_its_value_or_in_full(text: str, short: str, full: str) -> None:
    assert answer(text, "off") == Feedback(Signal.ACCEPTED, "")
    assert answer(text, "short") == Feedback(Signal.ACCEPTED, short)
    assert answer(text, "full") == Feedback(Signal.ACCEPTED, full)


def test_what_an_entry_changes_besides_is_told_in_any_case() -> None:
    before = (*BEFORE, "streak vertical neutral at plus three")

    told = answer("streak vertical neutral at plus two and three quarters", before=before)
    assert told.text == "plus two point seven five, instead of plus three"
    assert answer("working distance 50", before=before).text.startswith(
        "fifty, five zero from here on; the reading"
    )


def test_a_change_of_something_earlier_is_spoken_whole() -> None:
    before = (*BEFORE, "streak vertical neutral at plus three")

    assert answer("correction plus two", before=before).text == (
        "right eye: streak vertical neutral, sphere plus two, instead of plus three"
    )
    assert answer("scratch that", before=before).text == (
        "taken back: right eye: streak vertical neutral, sphere plus three"
    )


def test_a_line_of_several_entries_is_read_back_whole() -> None:
    """The eye that was asked for lets in what waited."""
    before = (
        "working distance 67",
        "streak vertical neutral at plus three",
        "streak horizontal neutral at plus one",
    )

    assert answer("right eye", "short", before=before).text == "right; plus three; plus one"
    assert answer("right eye", "full", before=before) == Feedback(
        Signal.ACCEPTED,
        "right eye; right eye: streak vertical neutral, sphere plus three; "
        "right eye: streak horizontal neutral, sphere plus one",
    )


def test_a_line_that_only_waits_sounds_as_a_question() -> None:
    found = answer("streak vertical neutral at plus three", before=("streak horizontal neutral at plus one",))

    assert found == Feedback(Signal.ASKED, "streak vertical neutral, sphere plus three waits: which eye?")


def test_a_line_that_enters_one_part_and_asks_about_another_sounds_as_a_question() -> None:
    """The eye lets in two readings that waited; the second has no sign."""
    waiting = ("streak vertical neutral at plus one", "streak horizontal neutral at three")
    found = answer("right eye", before=waiting)

    assert found == Feedback(Signal.ASKED, "right; plus one; three: plus or minus?")


def test_a_doubtful_entry_is_asked_about_in_words() -> None:
    found = answer("streak vertical neutral at plus three", log=-8.0)

    assert found == Feedback(Signal.ASKED, "did you say: streak vertical neutral, sphere plus three?")


def test_a_missing_sign_is_asked_for() -> None:
    assert answer("streak vertical neutral at three") == Feedback(Signal.ASKED, "three: plus or minus?")


@pytest.mark.parametrize("mode", ["short", "full"])
def test_answers_to_the_examiner_are_spoken_whole(mode: ReadBack) -> None:
    found = answer("read right eye", mode)

    assert found == Feedback(Signal.ACCEPTED, "right eye: nothing read yet")
    assert answer("read right eye", "off").text == ""


def test_a_contradiction_has_its_own_tone_when_it_is_asked_and_when_it_is_entered() -> None:
    seen = (*BEFORE, "streak 90 with at +3.50")
    asked = answer("streak 90 neutral at plus three", before=seen)
    assert asked.signal is Signal.CONTRADICTION
    assert "three point five" in asked.text

    session = Session()
    told: list[tuple[Event, ExamState]] = []
    session.listen(lambda event, state: told.append((event, state)))
    for line in (*seen, "streak 90 neutral at +3"):
        session.type_line(line)
    event, state = told[-1]
    assert isinstance(event, Line)
    assert feedback(event, state, "off").signal is Signal.CONTRADICTION


def test_an_answer_to_nothing_is_close_and_other_talk_is_silent() -> None:
    assert answer("yes").signal is Signal.IGNORED_BUT_CLOSE
    assert answer("look at the far letter please") == Feedback(None, "")


def test_nothing_sounds_while_the_log_does_not_listen() -> None:
    found = answer("streak vertical neutral at plus three", before=(*BEFORE, "stop listening"))

    assert found == Feedback(None, "")
