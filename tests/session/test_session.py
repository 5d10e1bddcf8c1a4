"""The session with a scripted listener: what is done with what was heard."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from tests.english import load
from voicelog.exam.events import Event, Line
from voicelog.exam.expecting import ANSWER, IN_HAND, LINE
from voicelog.exam.round import OVER
from voicelog.exam.state import ExamState, fold
from voicelog.hearing.engines.protocol import Hearing, Hypothesis, Samples
from voicelog.hearing.utterance import Utterance
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader
from voicelog.record.storing import NotKeptError
from voicelog.session import Memory, Session, Store

_ANSWERS = " ".join(f"answers_{name}" for name in ("confirm", "sign", "axis", "where", "power", "distance"))
READER = LineReader(load(), f"{LINE} {IN_HAND} {ANSWER} {_ANSWERS}", Layer.WRITTEN)


def hearing(text: str, log: float = -1.0) -> Hearing:
    """A clear hearing of a phrase; other talk where it is none; a doubtful one where `log` is low."""
    try:
        (meanings,) = READER.understand(text).readings
    except Exception:
        return Hearing("script", (), text, -1.0, 0.0)
    return Hearing("script", (Hypothesis(text, meanings, log),), text, -1.0, 0.0)


def session(store: Store | None = None) -> Session:
    """A session that begins with the right eye."""
    made = Session(store=store)
    made.take_heard(hearing("right eye"))
    return made


def hear(made: Session, *texts: str) -> list[str]:
    """Outcomes of clear phrases one after the other."""
    return [made.take_heard(hearing(text)).outcome for text in texts]


def gross(state: ExamState) -> list[float]:
    """Neutral powers of the right eye."""
    return [each.gross_d for each in state.eyes["right"].neutral]


def test_other_talk_is_kept_as_left_out() -> None:
    made = session()

    said = made.take_heard(hearing("look at the far letter please"))

    assert (said.outcome, said.meanings, said.text) == ("ignored", (), "look at the far letter please")


def test_a_doubtful_phrase_waits_for_yes() -> None:
    made = session()

    said = made.take_heard(hearing("streak vertical neutral at plus one", log=-8.0))
    assert said.outcome == "asked"
    assert "did you say" in said.reply
    assert gross(made.state) == []

    assert hear(made, "yes") == ["accepted"]
    assert gross(made.state) == [1.0]


@pytest.mark.parametrize("spoken", [False, True])
def test_what_is_nearly_a_phrase_is_asked_about_and_yes_enters_it(spoken: bool) -> None:
    made = session()
    line = "streak vertical i reckon plus one"
    said = (
        made.take_heard(Hearing("script", (), line, -1.0, 0.0))
        if spoken
        else made.type_line("streek vertical neutral at plus one")
    )

    assert said.outcome == "asked"
    assert said.reply.startswith("did you say: streak vertical")
    assert gross(made.state) == []
    assert made.type_line("yes").outcome == "accepted"
    assert gross(made.state) == [1.0]


@pytest.mark.parametrize(
    ("line", "asked", "done"),
    [
        (
            "old spec right minus four left minus three",
            "did you say: spectacles right eye sphere -4.00",
            "spectacles",
        ),
        ("pupils are equal em and reacting fine", "did you say: pupils equal and reactive?", "pupils"),
        ("read bak right eye", "did you mean 'read back right eye'?", "streak vertical"),
    ],
)
def test_a_typed_guess_of_any_kind_is_asked_about(line: str, asked: str, done: str) -> None:
    made = session()
    made.type_line("streak vertical neutral at plus one")

    said = made.type_line(line)

    assert (said.outcome, said.reply.startswith(asked)) == ("asked", True), said.reply
    assert done in made.type_line("yes").reply


@pytest.mark.parametrize("line", ["okay lovely", "hang on"])
def test_words_that_stand_beside_any_phrase_are_no_guess(line: str) -> None:
    """ "Done next" helps nobody who says "next"."""
    assert session().type_line(line).reply == f"{line!r} is nothing for the log"


def test_a_finished_exam_says_what_it_waits_for() -> None:
    made = session()
    made.on_order = lambda order: None
    made.type_line("finish exam")

    for line in ("next", "vertical plus two", "plus twwo"):
        assert (made.type_line(line).outcome, made.type_line(line).reply) == ("ignored", OVER)


def test_a_reference_that_cannot_be_taken_is_told_why() -> None:
    made = session()
    assert made.type_line("reference 4711").reply == "not entered: reference 4711: only in a live exam"

    made = Session(reference="K7")
    assert made.type_line("reference kilo seven").reply == "reference K7: so it is"
    assert (
        made.type_line("reference 4711").reply == "not entered: reference 4711: the exam has the reference K7"
    )

    made.on_order = lambda order: None  # live, and nothing is entered yet
    assert made.type_line("reference 4711").reply == "reference 4711"
    made.type_line("right eye")
    made.type_line("sphere plus one")
    assert made.type_line("reference 5").reply == "not entered: reference 5: the exam has the reference 4711"


def test_a_distance_is_told_to_a_millimetre_and_kept_in_full() -> None:
    made = session()
    assert made.type_line("two thirds of a metre").reply == "working distance 66.7 cm"
    assert made.state.distance_cm == 66.667


@pytest.mark.parametrize(
    ("line", "done"),
    [("next pashent", "next patient"), ("finish the exm", "finished"), ("yank that lens", "no lens")],
)
def test_a_guess_that_is_shown_and_not_asked_is_taken_by_the_next_yes_alone(line: str, done: str) -> None:
    made = session()

    said = made.type_line(line)
    assert said.question is None
    assert "did you mean" in said.reply
    made.type_line("right eye")
    assert made.type_line("yes").reply == "nothing was asked"

    made.type_line(line)
    assert done in made.type_line("yes").reply
    assert "did you mean" not in made.type_line("yes").reply


def test_a_guess_does_not_come_between_a_question_and_its_answer() -> None:
    made = session()
    made.type_line("streak vertical one seventy five")
    open_question = made.state.question
    assert open_question is not None

    assert made.take_heard(Hearing("script", (), "left eye", -1.0, 0.0)).outcome == "ignored"
    assert made.state.question == open_question


def test_talk_that_begins_with_the_other_eye_puts_the_eye_in_doubt_and_keeps_no_word() -> None:
    made = session(Memory())

    assert hear(made, "left eye he keeps on looking away") == ["ignored"]
    assert made.state.events[-1].text == ""  # type: ignore[union-attr]
    said = made.take_heard(hearing("streak vertical neutral at plus one"))
    assert said.reply == "what named an eye before was not understood: which eye?"
    assert hear(made, "left eye") == ["accepted"]
    assert [each.gross_d for each in made.state.eyes["left"].neutral] == [1.0]
    assert gross(made.state) == []


def test_an_utterance_with_words_missing_is_asked_about() -> None:
    class Script:
        name = "script"

        def hear(self, samples: Samples, rule: str) -> Hearing:
            return hearing("streak vertical neutral at plus one")

    silence = np.zeros(16000, np.float32)
    cut = Utterance(0, silence, 0, 16000, 0, 0, "gap", "pause", ((0, 16000),), 0.0, -20.0, -20.0, 0.0)
    made = Session(engine=Script())
    made.take_heard(hearing("right eye"))

    assert made.hear(cut).outcome == "asked"
    assert gross(made.state) == []


def test_while_paused_only_start_listening_is_heard() -> None:
    made = session()

    outcomes = hear(
        made, "stop listening", "streak vertical neutral at plus one", "right eye", "start listening"
    )
    assert outcomes == ["accepted", "ignored", "ignored", "accepted"]
    assert gross(made.state) == []

    hear(made, "streak vertical neutral at plus one")
    assert gross(made.state) == [1.0]


@pytest.mark.parametrize(("command", "listening"), [("stop listening", False), ("read back", True)])
def test_a_doubted_command_is_obeyed_after_yes_and_is_no_entry(command: str, listening: bool) -> None:
    made = session()
    assert made.take_heard(hearing(command, log=-8.0)).outcome == "asked"

    assert hear(made, "yes") == ["accepted"]
    assert made.state.listening is listening
    assert len(made.state.ledger.rows) == 1


def test_while_paused_a_doubtful_start_listening_is_left_out() -> None:
    made = session()
    hear(made, "streak vertical neutral at two", "stop listening")

    assert made.take_heard(hearing("start listening", log=-8.0)).outcome == "ignored"
    assert made.state.question is not None
    assert "plus or minus" in made.state.question.text


def test_a_note_without_words_is_asked_about_and_swallows_nothing() -> None:
    made = session()

    assert hear(made, "note", "streak vertical neutral at plus one") == ["asked", "accepted"]
    assert gross(made.state) == [1.0]
    assert made.state.question is not None


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("note good cooperation", "good cooperation"),
        ("jot down left eye lazy at plus two", "left eye lazy at plus two"),
    ],
)
def test_a_note_in_one_breath_is_kept_as_it_was_heard(said: str, kept: str) -> None:
    line = session().take_heard(hearing(said))

    assert (line.outcome, line.reply) == ("accepted", f"right eye: note (as heard, not proofed) {kept}")


@pytest.mark.parametrize(
    "said",
    ["note to self buy batteries", "make a note of that for me", "notes say he had surgery", "not too bad"],
)
def test_what_only_sounds_like_a_note_is_other_talk(said: str) -> None:
    assert hear(session(), said) == ["ignored"]


def test_what_may_be_a_denial_is_asked_about_and_no_note() -> None:
    made, doubtful = session(), hearing("streak vertical not neutral at plus two", log=-8.0)

    assert made.take_heard(replace(doubtful, free_text="note neutral at plus two")).outcome == "asked"
    assert made.state.question is not None


def test_while_paused_no_note_is_taken() -> None:
    assert hear(session(), "stop listening", "note good cooperation") == ["accepted", "ignored"]


def test_a_heard_contradiction_waits_and_a_repeat_confirms_it() -> None:
    made = session()

    outcomes = hear(
        made,
        "streak vertical with at plus three and a half",
        "streak vertical neutral at plus three",
        "streak vertical neutral at plus three",
    )
    assert outcomes == ["accepted", "asked", "accepted"]
    assert made.state.eyes["right"].status == "conflict"


def test_naming_the_eye_lets_the_waiting_entry_in() -> None:
    made = Session()
    assert hear(made, "streak vertical neutral at plus one", "right eye") == ["asked", "accepted"]

    assert gross(made.state) == [1.0]


def test_a_sign_is_answered_by_voice() -> None:
    made = session()

    hear(made, "streak vertical neutral at two and a quarter", "minus")

    assert gross(made.state) == [-2.25]


def test_typed_and_spoken_corrections_agree() -> None:
    spoken, by_hand = session(), session()
    for made in (spoken, by_hand):
        hear(made, "streak vertical neutral at plus one")

    hear(spoken, "not plus one but plus two")
    by_hand.type_line("not +1 but +2")

    assert gross(spoken.state) == gross(by_hand.state) == [2.0]


def test_listeners_are_told_of_every_event_with_its_state() -> None:
    made = session()
    told: list[tuple[Event, ExamState]] = []
    made.listen(lambda event, state: told.append((event, state)))

    made.type_line("streak 90 with")

    ((event, state),) = told
    assert isinstance(event, Line)
    assert state is made.state
    assert state.events[-1] is event


def test_what_the_store_refuses_has_not_happened() -> None:
    class Full(Memory):
        full = False

        def append(self, event: Event, state: ExamState | None = None) -> None:
            if self.full:
                raise OSError("no room")
            super().append(event, state)

    store = Full()
    made = session(store)
    before = made.state
    store.full = True
    with pytest.raises(NotKeptError, match="no room"):
        made.type_line("streak 90 neutral at +1")
    assert made.state is before

    store.full = False
    made.type_line("streak 90 neutral at +1")

    assert gross(made.state) == [1.0]
    assert [event.number for event in made.state.events] == [0, 1, 2]


def test_stored_events_fold_to_the_same_state() -> None:
    store = Memory()
    made = Session(store=store, now=lambda: datetime(2026, 1, 5, 9, 30, tzinfo=UTC))
    for line in (
        "right eye",
        "working distance 50",
        "streak 90 neutral at 2",
        "plus",
        "look",
        "not +2 but +3",
        "scratch that",
    ):
        made.type_line(line)

    again = fold(store.events)

    assert gross(again) == gross(made.state) == [2.0]
    assert again == made.state
