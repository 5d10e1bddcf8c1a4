"""What is heard after an event: one tone, and words for those who want them."""

from dataclasses import dataclass
from typing import Literal

from voicelog.exam.events import Said
from voicelog.exam.state import ExamState
from voicelog.exam.unlikely import unlikely
from voicelog.hearing.decision import default_limits
from voicelog.live import spoken
from voicelog.phrases import meanings as say
from voicelog.speaking.tones import Signal

ReadBack = Literal["off", "short", "full"]
"""What is spoken: nothing, the value ("plus three"), or the entry ("right, streak vertical, plus three").

Questions, and answers to the examiner's own questions, are spoken whole unless it is off."""


@dataclass(frozen=True, slots=True)
class Feedback:
    """A tone (None: nothing sounds) and what is spoken after it (empty: nothing)."""

    signal: Signal | None
    text: str = ""


def feedback(said: Said, state: ExamState, mode: ReadBack) -> Feedback:
    """The answer to an event, for the ear; `state` is the one that it led to."""
    text = "" if mode == "off" else _text(said, state, mode)
    return Feedback(_signal(said, state), text)


def _signal(said: Said, state: ExamState) -> Signal | None:
    match said.outcome:
        case "accepted":
            return Signal.CONTRADICTION if _contradicts(said, state) else Signal.ACCEPTED
        case "asked":
            return Signal.CONTRADICTION if _asks_of_contradiction(said, state) else Signal.ASKED
        case "ignored":
            return Signal.IGNORED_BUT_CLOSE if _close(said, state) else None


def _text(said: Said, state: ExamState, mode: ReadBack) -> str:
    if said.outcome == "ignored":
        return ""
    if said.entry is None:
        return spoken.spoken(said.reply)
    return spoken.short(said.entry) if mode == "short" else spoken.full(said.entry, state.eye)


def _contradicts(said: Said, state: ExamState) -> bool:
    """An entry went in and the eye it belongs to cannot be as it now stands in the log."""
    return said.entry is not None and state.eye is not None and state.eyes[state.eye].status == "conflict"


def _asks_of_contradiction(said: Said, state: ExamState) -> bool:
    question = said.question
    if question is None or question.missing != "confirm" or question.candidate is None:
        return False
    return unlikely(state, question.candidate) is not None


def _close(said: Said, state: ExamState) -> bool:
    """Left out, though it may have been meant for the log: understood, or as good a score as what is asked about.

    Other talk, and whatever is said while the log does not listen, makes no sound.
    """
    if not state.listening or state.in_note:
        return False
    score = said.heard.score if said.heard is not None else None
    near = score is not None and score >= default_limits().ask_score
    return near or isinstance(said.meaning, say.Answer | say.LooseSign | say.LooseAxis | say.LoosePower)
