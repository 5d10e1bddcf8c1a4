"""Brings a session into each state of the exchange and says each kind of thing to it, as if heard."""

from tests.session.test_session import hearing
from voicelog.exam.events import Said
from voicelog.live.exchange_table import Happening, State
from voicelog.session import Session

DOUBTED = "streak vertical neutral at plus one"
LEADING_TO: dict[State, tuple[tuple[str, float], ...]] = {
    State.LISTENING: (),
    State.ASKED_WHETHER: ((DOUBTED, -8.0),),
    State.ASKED_FOR_PART: (("streak vertical neutral at two and a quarter", -1.0),),
    State.ASKED_EYE: ((DOUBTED, -1.0),),
    State.ASKED_AGAIN: (("streak vertical neutral at plus forty", -1.0),),
    State.PAUSED: (("stop listening", -1.0),),
    State.PAUSED_ASKED: ((DOUBTED, -8.0), ("stop listening", -1.0)),
    State.NOTE: (("note", -1.0),),
}
SAID: dict[Happening, tuple[str, float]] = {
    Happening.ENTRY: ("streak horizontal neutral at plus two", -1.0),
    Happening.UNSURE: ("streak horizontal neutral at plus two", -8.0),
    Happening.REPEAT: (DOUBTED, -1.0),
    Happening.NO_SIGN: ("streak vertical neutral at three", -1.0),
    Happening.IMPOSSIBLE: ("streak vertical neutral at minus forty", -1.0),
    Happening.CONTRADICTION: ("streak forty five neutral at plus four", -1.0),
    Happening.YES: ("yes", -1.0),
    Happening.NO: ("no", -1.0),
    Happening.AGAIN: ("say again", -1.0),
    Happening.PART: ("minus", -1.0),
    Happening.EYE: ("right eye", -1.0),
    Happening.SCRATCH: ("scratch that", -1.0),
    Happening.TELL: ("what is missing", -1.0),
    Happening.PAUSE: ("stop listening", -1.0),
    Happening.RESUME: ("start listening", -1.0),
    Happening.NOTE: ("note", -1.0),
    Happening.END_NOTE: ("end note", -1.0),
    Happening.OTHER_TALK: ("look at the far letter please", -1.0),
}


def in_state(state: State) -> Session:
    """A session in a state; but for "which eye" the right eye is in hand and one motion of it is logged."""
    made = Session()
    before: tuple[str, ...] = ("working distance sixty seven",)
    if state is not State.ASKED_EYE:
        before = ("working distance sixty seven", "right eye", "streak forty five against at plus one")
    for text in before:
        assert made.take_heard(hearing(text)).outcome == "accepted"
    for text, log in LEADING_TO[state]:
        made.take_heard(hearing(text, log))
    return made


def happen(session: Session, happening: Happening) -> Said:
    """Say what the happening stands for."""
    text, log = SAID[happening]
    return session.take_heard(hearing(text, log))
