"""Whose turn it is: one state for terminal, page and ear, so that they cannot tell different things.

What decides comes in order of what it hides: after the end nothing is heard, without a microphone nobody can be heard,
and so on; somebody who speaks goes before the program's own voice, since it stops for them.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from voicelog.exam.events import Event, Line
from voicelog.exam.questions import Question
from voicelog.exam.state import ExamState


class Turn(StrEnum):
    """What the log is doing now; the value is what is written."""

    LISTENING = "listening"
    """Somebody may speak."""
    HEARS = "hears you"
    """Somebody speaks."""
    THINKING = "thinking"
    """Something was said and is being recognised."""
    SPEAKING = "speaking"
    """The program speaks; whoever talks over it is heard."""
    ASKED = "asked"
    """A question is open."""
    PAUSED = "paused"
    """Only "start listening" is taken, or the switch is closed."""
    MUTED = "muted"
    """The microphone gives no sound that could be a voice."""
    LOST = "microphone lost"
    """The microphone is missing, busy or unplugged."""
    ENDED = "ended"
    """Nothing is listened to any more."""


SHAPES: Final[dict[Turn, str]] = {
    Turn.LISTENING: "○",
    Turn.HEARS: "●",
    Turn.THINKING: "◔",
    Turn.SPEAKING: "◁",
    Turn.ASKED: "?",
    Turn.PAUSED: "‖",
    Turn.MUTED: "⊘",
    Turn.LOST: "✕",
    Turn.ENDED: "■",
}
"""A shape for each, so that it is never told by colour alone. All different."""

DEAF: Final = frozenset({Turn.PAUSED, Turn.MUTED, Turn.LOST, Turn.ENDED})
"""Where nothing that is said is entered."""


@dataclass(frozen=True, slots=True)
class Missed:
    """How many utterances could not be heard, by why; each has its row in the log."""

    paused: int = 0
    over_speech: int = 0
    failed: int = 0
    """Lost to a fault of the program."""

    @property
    def words(self) -> str:
        """ "2 not heard while paused, 1 under the program's own voice"; empty where there are none."""
        counts = (
            (self.paused, "not heard while paused"),
            (self.over_speech, "under the program's own voice"),
            (self.failed, "lost to a fault"),
        )
        return ", ".join(f"{count} {why}" for count, why in counts if count)


def missed(events: Sequence[Event]) -> Missed:
    """What could not be heard of an exam; of what was said while paused, only since it was paused last."""
    why = Counter(each.left_out for each in events if isinstance(each, Line))
    return Missed(_in_last_pause(events), why["over_speech"], why["failed"])


def _in_last_pause(events: Sequence[Event]) -> int:
    """Lines behind one another, but for others that were left out."""
    count = 0
    for each in reversed(events):
        if not isinstance(each, Line) or (not each.left_out and count):
            break
        count += each.left_out == "paused"
    return count


@dataclass(frozen=True, slots=True)
class Sound:
    """What is known of the sound now, apart from the exam."""

    ended: bool = False
    lost: bool = False
    muted: bool = False
    switch_open: bool | None = None
    """None without push-to-talk."""
    in_speech: bool = False
    speaking: bool = False
    thinking: bool = False


def turn_of(sound: Sound, exam: ExamState) -> Turn:
    """The one state that is shown."""
    reached = (
        (Turn.ENDED, sound.ended),
        (Turn.LOST, sound.lost),
        (Turn.MUTED, sound.muted),
        (Turn.PAUSED, not exam.listening or sound.switch_open is False),
        (Turn.HEARS, sound.in_speech),
        (Turn.SPEAKING, sound.speaking),
        (Turn.THINKING, sound.thinking),
        (Turn.ASKED, exam.question is not None),
    )
    return next((turn for turn, is_so in reached if is_so), Turn.LISTENING)


def hint(turn: Turn, sound: Sound, question: Question | None) -> str:
    """What may be done about it, in a few words."""
    match turn:
        case Turn.PAUSED if sound.switch_open is False:
            return "press the key to speak"
        case Turn.PAUSED:
            return 'say "start listening"'
        case Turn.MUTED:
            return "no sound from the microphone: its switch, or its level"
        case Turn.LOST:
            return "plug it in: it is tried again every second"
        case Turn.ASKED if question is not None:
            return question.text
        case Turn.ENDED:
            return "nothing is listened to"
        case _:
            return ""
