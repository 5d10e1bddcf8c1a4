"""What the log asks, and what settles it. Nothing enters by itself."""

import pytest

from tests.exam.typing import Typist, typed
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
        ("working distance 15", "15 inches are 38 cm"),
        ("working distance 90", "unusual"),
        ("working lens plus twenty in", "is no working distance lens"),
        ("neutral at plus one", "which meridian"),
        ("another plus a half", "on top of what"),
        ("streak 90 neutral", "no lens before the eye"),
    ],
)
def test_doubtful_values_are_asked_about_and_not_entered(line: str, question: str) -> None:
    outcome, reply, state = last(f"right eye\n{line}")

    assert outcome == "asked"
    assert question in reply
    assert list(state.ledger.rows) == ["1"]
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


def test_no_closes_the_question_and_enters_nothing() -> None:
    outcome, reply, state = last("right eye\nstreak 90 neutral at 2.25\nno")

    assert (outcome, reply) == ("accepted", "not entered")
    assert state.question is None
    assert list(state.ledger.rows) == ["1"]


@pytest.mark.parametrize("entry", ["right eye", "streak 45 against at plus one", "acuity 6/9"])
def test_another_clear_entry_goes_in_and_the_question_stays_open(entry: str) -> None:
    outcome, _, state = last(f"right eye\nstreak 90 neutral at 2.25\n{entry}")

    assert outcome == "accepted"
    assert list(state.ledger.rows) == ["1", "3"]
    assert state.question is not None
    assert "plus or minus" in state.question.text

    _, _, state = last(f"right eye\nstreak 90 neutral at 2.25\n{entry}\nminus")
    assert [each.gross_d for each in state.eyes["right"].neutral] == [-2.25]
    assert state.question is None


def test_the_entry_said_again_whole_takes_the_place_of_the_question() -> None:
    _, _, state = last("right eye\nstreak 90 neutral at 2.25\nstreak 90 neutral at plus two and a half")

    assert [each.gross_d for each in state.eyes["right"].neutral] == [2.5]
    assert state.question is None


def test_of_two_questions_the_newest_is_answered_first() -> None:
    lines = "right eye\nstreak 90 neutral at 2.25\nstreak 180 neutral at 1\nplus"
    _, reply, state = last(lines)
    assert "streak horizontal (power along 090) neutral, sphere +1.00" in reply
    assert reply.endswith("still open: 2.25: plus or minus?")

    _, _, state = last(f"{lines}\nminus")
    assert [each.gross_d for each in state.eyes["right"].neutral] == [1.0, -2.25]
    assert state.dialogue.questions == ()


@pytest.mark.parametrize(
    "answer", ["yes", "axis 90", "plus 1.00", "say again", "read back", "what is missing"]
)
def test_what_does_not_settle_the_question_leaves_it_open(answer: str) -> None:
    _, _, state = last(f"right eye\nstreak 90 neutral at 2.25\n{answer}")

    assert state.question is not None
    assert "plus or minus" in state.question.text
    assert state.eyes["right"].readings == ()


@pytest.mark.parametrize("line", ["yes", "no", "minus", "axis 90", "say again"])
def test_answers_to_nothing_are_left_out(line: str) -> None:
    outcome, reply, state = last(f"right eye\n{line}")

    assert (outcome, reply) == ("ignored", "nothing was asked")
    assert list(state.ledger.rows) == ["1"]


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


NEUTRAL = say.Reading(
    where=say.Where(names="streak", angle=90),
    motion="neutral",
    lens=say.Lens(sphere=say.Power(size_d=3, sign=1)),
)


def in_hand(lines: str) -> Typist:
    """An exam that was typed so far."""
    typist = Typist()
    for line in lines.splitlines():
        typist.type(line)
    return typist


def test_an_unsure_entry_is_asked_about_and_yes_enters_it() -> None:
    typist = in_hand("right eye")

    asked = typist.take([NEUTRAL], sure=False)
    assert (asked.outcome, asked.acts) == ("asked", ())
    assert asked.question is not None
    assert asked.question.candidate == NEUTRAL
    assert asked.reply == "did you say: streak vertical (090) neutral, sphere +3.00?"

    assert typist.type("yes").outcome == "accepted"
    assert [each.gross_d for each in typist.state.eyes["right"].neutral] == [3.0]


def test_all_of_an_unsure_breath_is_asked_about_and_goes_in_together() -> None:
    typist = in_hand("right eye")
    typist.take([say.Eye(eye="left"), NEUTRAL], sure=False)
    waiting = typist.type("streak 180 neutral at plus one")
    assert "waits: did you say: left eye; streak vertical" in waiting.reply

    typist.type("yes")

    assert typist.state.eyes["right"].readings == ()
    assert [each.gross_d for each in typist.state.eyes["left"].neutral] == [3.0, 1.0]


@pytest.mark.parametrize("answer", [say.Answer(answer="yes"), say.LooseSign(sign="plus")])
def test_an_unsure_answer_changes_nothing(answer: say.Meaning) -> None:
    typist = in_hand("right eye\nstreak 90 neutral at 2.25")

    line = typist.take([answer], sure=False)

    assert (line.outcome, line.acts) == ("ignored", ())
    assert line.reply == "not clear; the question stays open"
    assert typist.state.question is not None


def test_a_heard_contradiction_is_asked_about_and_a_typed_one_is_entered() -> None:
    before = "right eye\nworking distance 67\nstreak 90 with at +3.50"

    heard = in_hand(before).take([NEUTRAL], heard=True)
    assert (heard.outcome, heard.acts) == ("asked", ())
    assert "+3.50" in heard.reply

    assert in_hand(before).take([NEUTRAL]).outcome == "accepted"


def test_saying_a_doubtful_entry_again_is_as_good_as_yes() -> None:
    _, state = typed("right eye\nstreak 90 neutral\nstreak 90 neutral")
    assert [each.gross_d for each in state.eyes["right"].neutral] == [0.0]

    typist = in_hand("right eye\nworking distance 67\nstreak 90 with at +3.50")
    assert typist.take([NEUTRAL], heard=True).outcome == "asked"
    assert typist.take([NEUTRAL], heard=True).outcome == "accepted"


def test_one_breath_enters_what_is_clear_and_asks_the_rest() -> None:
    unsigned = say.Reading(
        where=say.Where(names="streak", angle=180),
        motion="neutral",
        lens=say.Lens(sphere=say.Power(size_d=1, sign=None)),
    )
    typist = in_hand("right eye")

    line = typist.take([NEUTRAL, unsigned])

    assert line.outcome == "asked"
    assert len(line.acts) == 1
    assert line.replies[-1] == "1.00: plus or minus?"
    assert list(typist.state.ledger.rows) == ["1", "2"]


def test_both_meridians_in_one_breath_are_two_entries_of_one_line() -> None:
    typist = in_hand("right eye")
    both = say.Reading(where=say.Where(names=None, which="both"), motion="neutral", lens=NEUTRAL.lens)

    typist.take([both])

    assert list(typist.state.ledger.rows) == ["1", "2", "2.2"]
    assert [(each.meridian_deg, each.gross_d) for each in typist.state.eyes["right"].neutral] == [
        (180, 3.0),
        (90, 3.0),
    ]


def test_what_a_question_holds_back_is_entered_in_order_or_named() -> None:
    lines = "drops tropicamide 1%\nright eye\nworking distance 67\nstreak 90 neutral at plus one"
    answers, state = typed(lines)
    assert answers[0].reply == "drops in which eye: right, left or both?"
    # The eye that is said answers: the drops were for it, and it is not in hand by that.
    assert answers[1].reply.startswith("right eye: drops tropicamide 1 %")
    assert state.question is not None
    assert state.question.text == "which eye?"

    answers, state = typed(f"{lines}\nscratch that")
    assert answers[-1].reply == "not entered: streak vertical (090) neutral, sphere +1.00"
    assert state.dialogue.waiting == ()


def test_what_is_asked_and_answered_out_of_the_queue_looks_through_the_lens_it_put_there() -> None:
    held = "streak 15 against at +0.75\nstreak 45 neutral at 3.00\ncorrection -0.25"
    answers, _ = typed(
        f"left eye\nworking distance 26\n{held}\nstreak 120 neutral with cylinder -3.75 axis 120\nyes"
    )

    assert "streak 120 (power along 030) neutral, sphere -0.25, cylinder -3.75 axis 120" in answers[-1].reply


def test_a_bare_direction_is_asked_about_while_nobody_chose_a_habit() -> None:
    typist = Typist(naming_said=False)
    for line in ("right eye", "streak 90 neutral at plus one"):
        assert typist.type(line).outcome == "accepted"

    asked = typist.type("horizontal neutral at plus two")
    assert asked.reply == "horizontal: is that the streak, or the meridian of power?"
    answer = typist.take([say.Habit(naming="meridian")])

    assert answer.replies == (
        "bare directions name the meridian of power",
        "right eye: meridian horizontal (streak 090) neutral, sphere +2.00, instead of +1.00",
    )


def test_an_eye_with_readings_of_its_own_is_no_answer_for_those_before() -> None:
    """The first eye was not heard: what was read of it must not go into the second."""
    _, reply, state = last(
        "working distance 50\nstreak vertical minus two\nstreak horizontal minus three\n"
        "left eye streak vertical minus one streak horizontal plus one"
    )
    assert reply.endswith("waits: which eye was streak vertical (090) neutral, sphere -2.00?")
    assert not state.eyes["left"].neutral

    _, _, state = last(
        "working distance 50\nstreak vertical minus two\nstreak horizontal minus three\n"
        "left eye streak vertical minus one streak horizontal plus one\nright"
    )
    read = {
        name: {(each.meridian_deg, each.gross_d) for each in eye.neutral} for name, eye in state.eyes.items()
    }
    assert read == {"right": {(180, -2.0), (90, -3.0)}, "left": {(180, -1.0), (90, 1.0)}}


def test_a_bare_direction_behind_the_other_way_of_naming_is_asked_about() -> None:
    """The habit is the streak, and meridians were named: "ninety" may be either, and the wrong one would change."""
    said = (
        "right eye\nworking distance 50\nmeridian 90 neutral at plus six\nmeridian 180 neutral at plus five"
    )
    outcome, reply, _ = last(f"{said}\nscratch that 90 is plus five and a half")
    assert (outcome, reply) == ("asked", "vertical: is that the streak, or the meridian of power?")

    for answer in ("meridian", "the meridian"):
        _, _, state = last(f"{said}\nscratch that 90 is plus five and a half\n{answer}")
        read = {each.meridian_deg: each.gross_d for each in state.eyes["right"].neutral}
        assert read == {90: 5.5, 180: 5.0}
        assert state.naming == "meridian"


@pytest.mark.parametrize("repair", ["scratch that 180 is", "no 180 is", "correction 180", "no 180 at"])
def test_a_reading_put_right_by_the_same_angle_is_named_as_it_was(repair: str) -> None:
    _, _, state = last(
        "right eye\nworking distance 50\nmeridian 90 neutral at plus six\nmeridian 180 neutral at plus five\n"
        f"{repair} plus five and a half"
    )
    assert {each.meridian_deg: each.gross_d for each in state.eyes["right"].neutral} == {90: 6.0, 180: 5.5}
    assert state.naming == "streak"


def test_what_is_said_twice_in_a_breath_does_not_confirm_itself() -> None:
    outcome, reply, state = last(
        "right eye\nstreak vertical plus two\nleft eye\nstreak vertical plus one\n"
        "i mixed up the eyes can you swap right and left"
    )
    assert (outcome, reply) == ("asked", "swap the two eyes completely, right for left?")
    assert [each.gross_d for each in state.eyes["right"].neutral] == [2.0]


def test_neutral_all_round_is_no_other_way_of_naming() -> None:
    outcome, _, state = last(
        "right eye\nworking distance 50\nboth meridians plus two\nvertical against at plus three"
    )

    assert outcome == "accepted"
    assert state.question is None


def test_a_motion_answers_no_question_of_the_eye_before() -> None:
    """ "With or against?" is of what was looked at then: what was entered since is looked at now."""
    typist = Typist()
    for line in (
        "working distance 67",
        "right eye",
        "streak vertical plus two",
        "not yet",
        "streak horizontal plus one",
        "left eye",
        "streak vertical minus one",
    ):
        typist.type(line)
    said = typist.type("it is neutral")

    assert said.replies[0].startswith("left eye: streak vertical")
    right = typist.state.eyes["right"].neutral
    assert [each.gross_d for each in right] == [2.0, 1.0]


def test_that_will_do_answers_what_is_asked() -> None:
    typist = Typist()
    for line in ("working distance 67", "right eye", "streak vertical", "plus two"):
        typist.type(line)
    assert typist.state.question is not None
    typist.type("that'll do")

    assert not typist.state.ended
    assert len(typist.state.eyes["right"].neutral) == 1


@pytest.mark.parametrize(("answer", "along_180_d"), [("yes", 3.0), ("no", 2.0)])
def test_the_same_in_both_asks_where_the_other_was_something_else(answer: str, along_180_d: float) -> None:
    """A patient says so of two pictures: "now both are the same"."""
    typist = Typist()
    for line in (
        "working distance 67",
        "right eye",
        "streak vertical plus two",
        "streak horizontal plus three",
    ):
        typist.type(line)
    said = typist.type("now both are the same")

    assert said.replies == (
        "streak vertical (power along 180) was neutral with sphere +2.00: is it sphere +3.00 now?",
    )
    typist.type(answer)
    read = {each.meridian_deg: each.gross_d for each in typist.state.eyes["right"].neutral}
    assert read == {90: 3.0, 180: along_180_d}


def test_digits_that_are_no_meridian_name_none_by_their_first() -> None:
    typist = Typist()
    for line in ("working distance 67", "right eye", "plus two", "five two eight one"):
        typist.type(line)

    assert not typist.state.eyes["right"].neutral


@pytest.mark.parametrize("answer", ["yeah, five and a quarter", "five and a quarter", "yes"])
def test_what_was_read_back_may_be_said_again_without_its_sign(answer: str) -> None:
    typist = Typist()
    for line in ("working distance 67", "right eye", "streak horizontal", "plus five and a quarter"):
        typist.type(line)
    typist.type(answer)

    assert [each.gross_d for each in typist.state.eyes["right"].neutral] == [5.25]
