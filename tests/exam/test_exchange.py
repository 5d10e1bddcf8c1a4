"""What the log asks, and what settles it. Nothing enters by itself."""

from dataclasses import replace

import pytest

from tests.exam.typing import typed
from voicelog.exam.exchange import respond
from voicelog.exam.state import ExamState
from voicelog.phrases import meanings as say


def last(lines: str) -> tuple[str, str, ExamState]:
    """Outcome and reply of the last line, and the state."""
    answers, state = typed(lines)
    return answers[-1].outcome, answers[-1].reply, state


@pytest.mark.parametrize(
    ("line", "question"),
    [
        ("streak 90 neutral at 2.25", "plus or minus"),
        ("streak 90 neutral at two and a quarter", "plus or minus"),
        ("streak 90 neutral at minus two five", "not clear"),
        ("cylinder minus two", "which axis"),
        ("cylinder minus two axis 190", "not within 1 to 180"),
        ("streak 190 with", "not within 1 to 180"),
        ("streak 90 neutral at plus forty", "beyond 30 D"),
        ("sphere +40", "beyond 30 D"),
        ("cylinder -15 axis 90", "beyond 12 D"),
        ("streak 90 neutral at plus two point three", "no step of a lens set"),
        ("working distance one fifty", "not within 10 to 100"),
        ("working distance 700", "not within 10 to 100"),
        ("working lens plus twenty in", "no working-distance lens"),
        ("neutral at plus one", "which meridian"),
        ("another plus a half", "on top of what"),
        ("streak 90 neutral", "no lens before the eye"),
    ],
)
def test_doubtful_values_are_asked_about_and_not_entered(line: str, question: str) -> None:
    outcome, reply, state = last(f"right eye\n{line}")

    assert outcome == "asked"
    assert question in reply
    assert len(state.ledger.lines) == 1
    assert state.question is not None


@pytest.mark.parametrize(
    ("lines", "gross_d"),
    [
        ("streak 90 neutral at 2.25\nminus", -2.25),
        ("streak 90 neutral at 2.25\nplus", 2.25),
        ("streak 90 neutral at 2.25\nminus 2.25", -2.25),
        ("streak 90 neutral at minus two five\nminus two point two five", -2.25),
        ("streak 90 neutral with cylinder minus two\naxis 90", -2.0),
        ("streak 90 neutral with cylinder minus two axis 200\naxis 90", -2.0),
        ("streak 90 neutral with cylinder 2\nminus\naxis 90", -2.0),
        ("streak 90 neutral\nyes", 0.0),
    ],
)
def test_an_answer_completes_the_entry(lines: str, gross_d: float) -> None:
    outcome, _, state = last(f"right eye\n{lines}")

    assert outcome == "accepted"
    assert [each.gross_d for each in state.eyes["right"].neutral] == [gross_d]
    assert state.question is None


@pytest.mark.parametrize("answer", ["no", "right eye", "streak 45 against at plus one"])
def test_no_or_another_entry_closes_the_question_without_entering_it(answer: str) -> None:
    outcome, _, state = last(f"right eye\nstreak 90 neutral at 2.25\n{answer}")

    assert outcome == "accepted"
    assert state.question is None
    assert state.eyes["right"].neutral == ()


@pytest.mark.parametrize(
    "answer", ["yes", "axis 90", "plus 1.00", "say again", "read back", "what is missing"]
)
def test_what_does_not_settle_the_question_leaves_it_open(answer: str) -> None:
    _, _, state = last(f"right eye\nstreak 90 neutral at 2.25\n{answer}")

    assert state.question is not None
    assert "plus or minus" in state.question.text
    assert state.eyes["right"].readings == ()


@pytest.mark.parametrize("line", ["yes", "no", "minus", "plus three", "axis 90", "say again"])
def test_answers_to_nothing_are_left_out(line: str) -> None:
    outcome, reply, state = last(f"right eye\n{line}")

    assert (outcome, reply) == ("ignored", "nothing was asked")
    assert len(state.ledger.lines) == 1


def test_without_an_eye_nothing_is_entered_until_it_is_named() -> None:
    outcome, reply, waiting = last("streak 90 neutral at plus one")
    assert (outcome, reply) == ("asked", "which eye?")
    assert waiting.eyes["right"].readings == waiting.eyes["left"].readings == ()

    _, _, named = last("streak 90 neutral at plus one\nleft eye")

    assert [each.gross_d for each in named.eyes["left"].readings] == [1.0]
    assert named.eyes["right"].readings == ()


def test_other_eye_first_asks_which() -> None:
    outcome, reply, _ = last("other eye")

    assert outcome == "asked"
    assert "right or left" in reply


def test_an_unsure_entry_is_asked_about_and_yes_enters_it() -> None:
    _, state = typed("right eye")
    reading = say.Reading(
        where=say.Where(names="streak", angle=90),
        motion="neutral",
        lens=say.Lens(sphere=say.Power(size_d=1, sign=1)),
    )

    reply = respond(state, reading, sure=False)

    assert (reply.outcome, reply.entry) == ("asked", None)
    assert reply.question is not None
    assert reply.question.candidate == reading


@pytest.mark.parametrize("answer", [say.Answer(answer="yes"), say.LooseSign(sign="plus")])
def test_an_unsure_answer_changes_nothing(answer: say.Meaning) -> None:
    _, state = typed("right eye\nstreak 90 neutral at 2.25")

    reply = respond(state, answer, sure=False)

    assert (reply.outcome, reply.entry) == ("ignored", None)


def test_a_heard_contradiction_is_asked_about_and_a_typed_one_is_entered() -> None:
    _, state = typed("right eye\nworking distance 67\nstreak 90 with at +3.50")
    reading = say.Reading(
        where=say.Where(names="streak", angle=90),
        motion="neutral",
        lens=say.Lens(sphere=say.Power(size_d=3, sign=1)),
    )

    heard, by_hand = respond(state, reading, heard=True), respond(state, reading)

    assert heard.outcome == "asked"
    assert "+3.50" in heard.text
    assert by_hand.outcome == "accepted"


def test_saying_a_doubtful_entry_again_is_as_good_as_yes() -> None:
    _, state = typed("right eye\nstreak 90 neutral\nstreak 90 neutral")
    assert [each.gross_d for each in state.eyes["right"].neutral] == [0.0]

    _, state = typed("right eye\nworking distance 67\nstreak 90 with at +3.50")
    reading = say.Reading(
        where=say.Where(names="streak", angle=90),
        motion="neutral",
        lens=say.Lens(sphere=say.Power(size_d=3, sign=1)),
    )
    asked = respond(state, reading, heard=True)
    waiting = replace(state, question=asked.question, question_number=9)

    assert respond(waiting, reading, heard=True).outcome == "accepted"
