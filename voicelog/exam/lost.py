"""What was said and is lost: to a fault of the program, or because it was not understood.

It may have named the other eye, so nothing counts for an eye before that is settled.
"""

from typing import Final

from voicelog.exam.breath import Breath, Reply
from voicelog.exam.events import Dialogue
from voicelog.exam.protocol import NO_REMINDERS
from voicelog.exam.questions import Question
from voicelog.exam.state import ExamState
from voicelog.phrases.half_said import HalfSaid

WHICH_EYE: Final = Question(
    missing="eye", text="something was lost to a fault: which eye? Then say it again", doubt="lost"
)
SAY_AGAIN: Final = "lost to a fault: say it again"


def after_loss(state: ExamState, number: int) -> Reply:
    """The reply to what was lost in event `number`; what follows waits until the eye is named.

    It is not asked where the log does not listen, where no eye is in hand (readings ask for it anyway), or where the
    question is open already.
    """
    breath = Breath(state, number, None, NO_REMINDERS)
    asked = any(each.question.missing == "eye" for each in state.dialogue.questions)
    if asked or state.eye is None or not state.listening:
        breath.replies.append(SAY_AGAIN)
    else:
        breath.ask(WHICH_EYE)
    return breath.reply(state.dialogue)


def not_understood(state: ExamState, words: str, half: HalfSaid) -> Reply:
    """The reply to a line that says nothing that the log knows; `half` is what it names all the same."""
    return Reply("asked", replies=(words,), dialogue=half_named(state, half))


def half_named(state: ExamState, half: HalfSaid) -> Dialogue | None:
    """Where the exchange stands after what was not understood, but named an eye, a lens or a distance.

    None where as before. Nothing is asked yet: it may have been other talk. What comes next is asked about where it
    names no eye, looks through the lenses that are in place, or is read from the distance that was said before.
    """
    if not state.listening:
        return None
    named = half.eye
    other = named is not None and not named.side_only and named.eye != state.eye
    changes = {
        name: True
        for name, unclear in (
            ("eye_unclear", other),
            ("lens_unclear", half.lens and state.eye is not None),
            ("distance_unclear", half.distance),
        )
        if unclear
    }
    return state.dialogue.model_copy(update=changes) if changes else None
