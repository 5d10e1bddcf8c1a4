"""Lines that hold an entry's words and are none: questions, and what is told or asked of an eye."""

import pytest

from voicelog.session import Session

BEFORE = (
    "i name the streak",
    "right eye",
    "working distance 67",
    "vertical plus two",
    "horizontal plus three",
)


def _typed(line: str, *before: str) -> tuple[Session, str]:
    session = Session()
    for each in (*BEFORE, *before):
        session.type_line(each)
    return session, session.type_line(line).outcome


@pytest.mark.parametrize("line", ["is it finished", "are we done", "have we finished", "am i all done"])
def test_a_question_about_the_end_ends_nothing(line: str) -> None:
    session, _ = _typed(line)

    assert not session.state.ended


@pytest.mark.parametrize(
    "line",
    [
        "o s result please",
        "say back o s",
        "what did you write for the left eye",
        "my left eye is the good one",
        "his left eye's better",
        "look left not right",
        "it comes and goes in the left eye",
    ],
)
def test_what_is_asked_or_told_of_an_eye_makes_it_no_eye_in_hand(line: str) -> None:
    session, _ = _typed(line)

    assert session.state.eye == "right"
    assert len(session.state.eyes["right"].readings) == 2


@pytest.mark.parametrize(
    "line",
    [
        "i would have called it neutral at plus one",
        "i'd have said plus one at ninety",
        "could have made vertical plus one",
    ],
)
def test_what_would_have_been_is_no_entry(line: str) -> None:
    session, outcome = _typed(line)

    assert outcome != "accepted"
    assert {each.entry.lenses.sphere_d for each in session.state.eyes["right"].readings} == {2.0, 3.0}


@pytest.mark.parametrize("line", ["okay now the left eye please", "moving on to that left eye mate"])
def test_an_eye_said_among_words_that_tell_nothing_still_comes(line: str) -> None:
    session, outcome = _typed(line)

    assert (session.state.eye, outcome) == ("left", "accepted")


@pytest.mark.parametrize(
    "behind", ["patient refused", "patient declined", "hopefully", "as agreed on the telephone", "zxcv"]
)
def test_a_word_of_no_list_behind_a_power_is_never_passed_over(behind: str) -> None:
    session, _ = _typed(f"vertical plus one {behind}")

    assert [each.lenses.sphere_d for each in session.state.eyes["right"].readings] == [2.0, 3.0]


def test_words_of_the_room_behind_a_power_are_passed_over() -> None:
    session, outcome = _typed("vertical plus one she's looking at the duck")

    assert outcome == "accepted"
    assert session.state.eyes["right"].readings[-1].lenses.sphere_d == 1.0


def test_what_swings_up_and_down_answers_no_question() -> None:
    session = Session()
    for each in ("right eye", "neutral plus two"):
        session.type_line(each)

    session.type_line("it's swinging up and down")

    assert not session.state.eyes["right"].readings


@pytest.mark.parametrize("line", ["i read at forty centimetres", "i see a bright streak"])
def test_what_the_patient_tells_of_himself_is_no_entry(line: str) -> None:
    _, outcome = _typed(line)

    assert outcome == "asked"


@pytest.mark.parametrize("line", ["v a", "i see a bright streak", "the light is moving with me"])
def test_nor_does_it_answer_a_question(line: str) -> None:
    session = Session()
    for each in ("right eye", "working distance 67"):
        session.type_line(each)
    asked = session.type_line("vertical plus two")
    session.type_line(line)

    assert asked.question is not None
    assert not session.state.eyes["right"].neutral
    assert not session.state.standing.habit_said


def test_a_person_who_is_called_before_a_question_is_asked() -> None:
    session, outcome = _typed("doctor is the left one next")

    assert outcome == "asked"
    assert session.state.eye == "right"


@pytest.mark.parametrize("line", ["the sphere stays in", "because the power lies across it"])
def test_nothing_is_offered_to_be_taken_away(line: str) -> None:
    session, outcome = _typed(line)

    assert outcome == "asked"
    assert session.state.question is None


@pytest.mark.parametrize(
    "line", ["doctor i am minus five in both", "i'm plus two in the right eye", "i'm minus three"]
)
def test_what_somebody_says_of_his_own_glasses_is_no_reading(line: str) -> None:
    session, outcome = _typed(line)

    assert outcome != "entered"
    assert session.state.question is None


def test_an_entry_with_a_question_mark_is_asked_about() -> None:
    session, outcome = _typed("so the power is minus one point seven five at ninety?")

    assert outcome == "asked"
    assert session.state.question is not None
    session.type_line("no")
    assert _typed("what have i got?")[1] != "asked"
