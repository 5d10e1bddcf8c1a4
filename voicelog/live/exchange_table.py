"""The exchange between examiner and log as a table: states x happenings -> what comes of it, and the next state.

The exam decides (`exam/exchange.py`, `session`); this table says what it decides. The screen names the state
from it, the drawing in the documents is made from it, and the tests drive every cell of it through a session.
Silence is no happening: a question stays open until something is said, and never enters by itself.
"""

from dataclasses import dataclass
from enum import StrEnum

from voicelog.exam.state import ExamState
from voicelog.phrases.outcome import Outcome


class State(StrEnum):
    """What the log waits for, by the question in hand.

    With a question open that readings depend on (eye, distance, lens, mirror, condition, pass), entries wait.
    """

    LISTENING = "listening"
    ASKED_WHETHER = "asked whether"
    ASKED_FOR_PART = "asked for a part"
    ASKED_AGAIN = "asked to say it again"
    ASKED_EYE = "asked which eye; entries wait"
    WAITING_WHETHER = "asked whether; entries wait"
    WAITING_FOR_PART = "asked for a part; entries wait"
    PAUSED = "paused"
    PAUSED_ASKED = "paused, question open"


class Happening(StrEnum):
    """What is said."""

    ENTRY = "a clear entry"
    UNSURE = "an entry heard with doubt"
    REPEAT = "the asked entry again"
    NO_SIGN = "an entry without its sign"
    IMPOSSIBLE = "an impossible value"
    CONTRADICTION = "a contradicting entry"
    DOUBTFUL_SETTING = "a setting that is in doubt"
    UNSIGNED_LENS = "a lens without its sign"
    FINDING = "a finding or a note"
    YES = "yes"
    NO = "no"
    AGAIN = "say again"
    PART = "the missing part"
    EYE = "the eye"
    SCRATCH = "scratch that"
    TELL = "a question to the log"
    PAUSE = "stop listening"
    RESUME = "start listening"
    OTHER_TALK = "other talk"


@dataclass(frozen=True, slots=True)
class Move:
    """What comes of a happening: its outcome, whether it changed the log, whether it waits, and the state after."""

    outcome: Outcome
    enters: bool
    waits: bool
    next: State


HINTS: dict[State, str] = {
    State.LISTENING: "say an entry",
    State.ASKED_WHETHER: "yes, no, or say it again",
    State.ASKED_FOR_PART: "say what is missing, or no",
    State.ASKED_AGAIN: "say the entry again, or no",
    State.ASKED_EYE: "right eye or left eye",
    State.WAITING_WHETHER: "yes, no, or what is right",
    State.WAITING_FOR_PART: "say what is missing",
    State.PAUSED: "start listening",
    State.PAUSED_ASKED: "start listening",
}


def state_of(exam: ExamState) -> State:
    """The state that an exam is in."""
    question = exam.question
    if not exam.listening:
        return State.PAUSED if question is None else State.PAUSED_ASKED
    if question is None:
        return State.LISTENING
    if question.missing == "eye":
        return State.ASKED_EYE
    waiting = any(each.question.blocks for each in exam.dialogue.questions)
    if question.missing == "confirm":
        return State.WAITING_WHETHER if waiting else State.ASKED_WHETHER
    if waiting:
        return State.WAITING_FOR_PART
    return State.ASKED_AGAIN if question.missing == "repeat" else State.ASKED_FOR_PART


def _enters(state: State) -> Move:
    return Move("accepted", enters=True, waits=False, next=state)


def _obeys(state: State) -> Move:
    return Move("accepted", enters=False, waits=False, next=state)


def _asks(state: State) -> Move:
    return Move("asked", enters=False, waits=False, next=state)


def _waits(state: State) -> Move:
    return Move("asked", enters=False, waits=True, next=state)


def _leaves_out(state: State) -> Move:
    return Move("ignored", enters=False, waits=False, next=state)


def _with_question(state: State) -> dict[Happening, Move]:
    """What every open question has in common: commands are obeyed, other talk and answers to nothing leave it open."""
    return {
        Happening.YES: _leaves_out(state),
        Happening.NO: _obeys(State.LISTENING),
        Happening.AGAIN: _obeys(state),
        Happening.PART: _leaves_out(state),
        Happening.SCRATCH: _obeys(State.LISTENING),
        Happening.TELL: _obeys(state),
        Happening.PAUSE: _obeys(State.PAUSED_ASKED),
        Happening.RESUME: _obeys(state),
        Happening.OTHER_TALK: _leaves_out(state),
    }


def _entering(state: State) -> dict[Happening, Move]:
    """A question of one entry: it stays open when another is entered; the same entry said again settles it.

    What asks in its turn is then the question in hand; once that is settled, the one before is in hand again.
    """
    return {
        Happening.ENTRY: _enters(state),
        Happening.UNSURE: _asks(State.ASKED_WHETHER),
        Happening.REPEAT: _enters(State.LISTENING),
        Happening.NO_SIGN: _asks(State.ASKED_FOR_PART),
        Happening.IMPOSSIBLE: _asks(State.ASKED_AGAIN),
        Happening.CONTRADICTION: _asks(State.ASKED_WHETHER),
        Happening.DOUBTFUL_SETTING: _asks(State.WAITING_WHETHER),
        Happening.UNSIGNED_LENS: _asks(State.WAITING_FOR_PART),
        Happening.FINDING: _enters(state),
        Happening.EYE: _enters(state),
    }


def _waiting(state: State) -> dict[Happening, Move]:
    """A question that readings depend on: whatever could be entered waits for it."""
    waits = (
        Happening.ENTRY,
        Happening.NO_SIGN,
        Happening.IMPOSSIBLE,
        Happening.CONTRADICTION,
        Happening.DOUBTFUL_SETTING,
        Happening.UNSIGNED_LENS,
        Happening.FINDING,
        Happening.EYE,
    )
    return {happening: _waits(state) for happening in waits} | {
        Happening.UNSURE: _asks(State.WAITING_WHETHER),
        Happening.REPEAT: _enters(State.LISTENING),
    }


def _deaf(state: State) -> dict[Happening, Move]:
    return {happening: _leaves_out(state) for happening in Happening}


TABLE: dict[State, dict[Happening, Move]] = {
    State.LISTENING: _with_question(State.LISTENING)
    | _entering(State.LISTENING)
    | {
        Happening.NO: _leaves_out(State.LISTENING),
        Happening.AGAIN: _leaves_out(State.LISTENING),
        Happening.SCRATCH: _enters(State.LISTENING),
        Happening.PAUSE: _obeys(State.PAUSED),
    },
    State.ASKED_WHETHER: _with_question(State.ASKED_WHETHER)
    | _entering(State.ASKED_WHETHER)
    | {Happening.YES: _enters(State.LISTENING), Happening.PART: _enters(State.LISTENING)},
    State.ASKED_FOR_PART: _with_question(State.ASKED_FOR_PART)
    | _entering(State.ASKED_FOR_PART)
    | {Happening.PART: _enters(State.LISTENING)},
    State.ASKED_AGAIN: _with_question(State.ASKED_AGAIN) | _entering(State.ASKED_AGAIN),
    State.ASKED_EYE: _with_question(State.ASKED_EYE)
    | _waiting(State.ASKED_EYE)
    | {Happening.REPEAT: _asks(State.ASKED_EYE), Happening.EYE: _enters(State.LISTENING)},
    State.WAITING_WHETHER: _with_question(State.WAITING_WHETHER)
    | _waiting(State.WAITING_WHETHER)
    | {Happening.YES: _enters(State.LISTENING)},
    State.WAITING_FOR_PART: _with_question(State.WAITING_FOR_PART)
    | _waiting(State.WAITING_FOR_PART)
    | {Happening.PART: _enters(State.LISTENING), Happening.UNSIGNED_LENS: _asks(State.WAITING_FOR_PART)},
    State.PAUSED: _deaf(State.PAUSED) | {Happening.RESUME: _obeys(State.LISTENING)},
    # Resuming leads back to the question that was open; drawn here for the one that asks whether.
    State.PAUSED_ASKED: _deaf(State.PAUSED_ASKED) | {Happening.RESUME: _obeys(State.ASKED_WHETHER)},
}
"""Every state with every happening, by voice."""
