"""The exchange between examiner and log as a table: states x happenings -> what comes of it, and the next state.

The exam decides (`exam/exchange.py`, `session.py`); this table says what it decides. The screen names the state
from it, the drawing in the documents is made from it, and the tests drive every cell of it through a session.
Silence is no happening: a question stays open until something is said, and never enters by itself.
"""

from dataclasses import dataclass
from enum import StrEnum

from voicelog.exam.state import ExamState
from voicelog.phrases.outcome import Outcome


class State(StrEnum):
    """What the log waits for."""

    LISTENING = "listening"
    ASKED_WHETHER = "asked whether"
    ASKED_FOR_PART = "asked for a part"
    ASKED_EYE = "asked which eye"
    ASKED_AGAIN = "asked to say it again"
    PAUSED = "paused"
    PAUSED_ASKED = "paused, question open"
    NOTE = "note"


class Happening(StrEnum):
    """What is said."""

    ENTRY = "a clear entry"
    UNSURE = "an entry heard with doubt"
    REPEAT = "the asked entry again"
    NO_SIGN = "an entry without its sign"
    IMPOSSIBLE = "an impossible value"
    CONTRADICTION = "a contradicting entry"
    YES = "yes"
    NO = "no"
    AGAIN = "say again"
    PART = "the missing part"
    EYE = "the eye"
    SCRATCH = "scratch that"
    TELL = "a question to the log"
    PAUSE = "stop listening"
    RESUME = "start listening"
    NOTE = "note"
    END_NOTE = "end note"
    OTHER_TALK = "other talk"


@dataclass(frozen=True, slots=True)
class Move:
    """What comes of a happening: its outcome, whether an entry went into the log, and the state after it."""

    outcome: Outcome
    enters: bool
    next: State


HINTS: dict[State, str] = {
    State.LISTENING: "say an entry",
    State.ASKED_WHETHER: "yes, no, or say it again",
    State.ASKED_FOR_PART: "say what is missing, no, or another entry",
    State.ASKED_EYE: "right eye or left eye",
    State.ASKED_AGAIN: "say the entry again, or another",
    State.PAUSED: "start listening",
    State.PAUSED_ASKED: "start listening",
    State.NOTE: "end note",
}


def state_of(exam: ExamState) -> State:
    """The state that an exam is in."""
    if exam.in_note:
        return State.NOTE
    question = exam.question
    if not exam.listening:
        return State.PAUSED if question is None else State.PAUSED_ASKED
    if question is None:
        return State.LISTENING
    return {
        "confirm": State.ASKED_WHETHER,
        "eye": State.ASKED_EYE,
        "repeat": State.ASKED_AGAIN,
    }.get(question.missing, State.ASKED_FOR_PART)


def _enters(state: State) -> Move:
    return Move("accepted", enters=True, next=state)


def _obeys(state: State) -> Move:
    return Move("accepted", enters=False, next=state)


def _asks(state: State) -> Move:
    return Move("asked", enters=False, next=state)


def _leaves_out(state: State) -> Move:
    return Move("ignored", enters=False, next=state)


_ENTRIES: dict[Happening, Move] = {
    Happening.ENTRY: _enters(State.LISTENING),
    Happening.UNSURE: _asks(State.ASKED_WHETHER),
    Happening.REPEAT: _enters(State.LISTENING),
    Happening.NO_SIGN: _asks(State.ASKED_FOR_PART),
    Happening.IMPOSSIBLE: _asks(State.ASKED_AGAIN),
    Happening.CONTRADICTION: _asks(State.ASKED_WHETHER),
    Happening.EYE: _enters(State.LISTENING),
    Happening.SCRATCH: _enters(State.LISTENING),
    Happening.NOTE: _obeys(State.NOTE),
}
"""The same wherever it listens and knows the eye: another entry takes the place of an open question."""


def _open_question(state: State) -> dict[Happening, Move]:
    """Only "no", the answer asked for, or another entry closes a question; "yes" by itself is no value."""
    return _ENTRIES | {
        Happening.YES: _leaves_out(state),
        Happening.NO: _obeys(State.LISTENING),
        Happening.AGAIN: _obeys(state),
        Happening.PART: _leaves_out(state),
        Happening.TELL: _obeys(state),
        Happening.PAUSE: _obeys(State.PAUSED_ASKED),
        Happening.RESUME: _obeys(state),
        Happening.END_NOTE: _obeys(state),
        Happening.OTHER_TALK: _leaves_out(state),
    }


def _deaf(state: State) -> dict[Happening, Move]:
    return {happening: _leaves_out(state) for happening in Happening}


TABLE: dict[State, dict[Happening, Move]] = {
    State.LISTENING: _open_question(State.LISTENING)
    | {
        Happening.NO: _leaves_out(State.LISTENING),
        Happening.AGAIN: _leaves_out(State.LISTENING),
        Happening.PAUSE: _obeys(State.PAUSED),
    },
    State.ASKED_WHETHER: _open_question(State.ASKED_WHETHER) | {Happening.YES: _enters(State.LISTENING)},
    State.ASKED_FOR_PART: _open_question(State.ASKED_FOR_PART) | {Happening.PART: _enters(State.LISTENING)},
    State.ASKED_EYE: _open_question(State.ASKED_EYE)
    | {
        Happening.ENTRY: _asks(State.ASKED_EYE),
        Happening.REPEAT: _asks(State.ASKED_EYE),
        Happening.CONTRADICTION: _asks(State.ASKED_EYE),
    },
    State.ASKED_AGAIN: _open_question(State.ASKED_AGAIN),
    State.PAUSED: _deaf(State.PAUSED) | {Happening.RESUME: _obeys(State.LISTENING)},
    # Resuming leads back to the question that was open; drawn here for the one that asks whether.
    State.PAUSED_ASKED: _deaf(State.PAUSED_ASKED) | {Happening.RESUME: _obeys(State.ASKED_WHETHER)},
    # So does the end of a note; drawn here for one that began with no question open.
    State.NOTE: _deaf(State.NOTE) | {Happening.END_NOTE: _obeys(State.LISTENING)},
}
"""Every state with every happening, by voice."""
