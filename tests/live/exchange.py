"""Brings a session into each state of the exchange and says each kind of thing to it, as if heard."""

from tests.session.test_session import hearing
from voicelog.exam.events import Line
from voicelog.live.exchange_table import Happening, State
from voicelog.session import Session

DOUBTED = "streak vertical neutral at plus one"
LEADING_TO: dict[State, tuple[tuple[str, float], ...]] = {
    State.LISTENING: (),
    State.ASKED_WHETHER: ((DOUBTED, -8.0),),
    State.ASKED_FOR_PART: (("streak vertical neutral at two and a quarter", -1.0),),
    State.ASKED_AGAIN: (("streak vertical neutral at plus forty", -1.0),),
    State.ASKED_EYE: ((DOUBTED, -1.0),),
    State.WAITING_WHETHER: (("working distance twenty six", -1.0),),
    State.WAITING_FOR_PART: (("sphere two and a quarter", -1.0),),
    State.PAUSED: (("stop listening", -1.0),),
    State.PAUSED_ASKED: ((DOUBTED, -8.0), ("stop listening", -1.0)),
}
SAID: dict[Happening, tuple[str, float]] = {
    Happening.ENTRY: ("streak horizontal neutral at plus two", -1.0),
    Happening.UNSURE: ("streak horizontal neutral at plus two", -8.0),
    Happening.REPEAT: (DOUBTED, -1.0),
    Happening.NO_SIGN: ("streak horizontal neutral at three", -1.0),
    Happening.IMPOSSIBLE: ("streak horizontal neutral at minus forty", -1.0),
    Happening.CONTRADICTION: ("streak forty five neutral at plus four", -1.0),
    Happening.DOUBTFUL_SETTING: ("working lens plus two in", -1.0),
    Happening.UNSIGNED_LENS: ("sphere three", -1.0),
    Happening.FINDING: ("acuity unaided six nine", -1.0),
    Happening.YES: ("yes", -1.0),
    Happening.NO: ("no", -1.0),
    Happening.AGAIN: ("say again", -1.0),
    Happening.PART: ("minus", -1.0),
    Happening.EYE: ("right eye", -1.0),
    Happening.SCRATCH: ("scratch that", -1.0),
    Happening.TELL: ("what is missing", -1.0),
    Happening.PAUSE: ("stop listening", -1.0),
    Happening.RESUME: ("start listening", -1.0),
    Happening.OTHER_TALK: ("look at the far letter please", -1.0),
}
AGAIN: dict[State, str] = {
    State.WAITING_WHETHER: "working distance sixty",
    State.WAITING_FOR_PART: "sphere plus two and a quarter",
}
"""What says again what is asked about, where that is not the doubted reading."""


def in_state(state: State) -> Session:
    """A session in a state; but for "which eye" the right eye is in hand and one motion of it is logged."""
    made = Session()
    before = ["working distance sixty seven"]
    if state is not State.ASKED_EYE:
        before += ["right eye", "streak forty five against at plus one"]
    for text in before:
        assert made.take_heard(hearing(text)).outcome == "accepted"
    for text, log in LEADING_TO[state]:
        made.take_heard(hearing(text, log))
    return made


def happen(session: Session, happening: Happening, state: State) -> Line:
    """Say what the happening stands for in a state."""
    text, log = SAID[happening]
    if happening is Happening.REPEAT:
        text = AGAIN.get(state, text)
    return session.take_heard(hearing(text, log))
