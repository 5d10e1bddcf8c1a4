"""What was said and is lost: to a fault of the program, or because it was not understood.

It may have named the other eye, so nothing counts for an eye before that is settled.
"""

from typing import Final

from voicelog.exam.breath import Breath, Reply
from voicelog.exam.events import Dialogue
from voicelog.exam.protocol import NO_REMINDERS
from voicelog.exam.questions import Question
from voicelog.exam.state import ExamState
from voicelog.phrases import meanings as say

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


def not_understood(state: ExamState, words: str, named: say.Eye | None) -> Reply:
    """The reply to a line that says nothing that the log knows; `named` is the eye that it names all the same."""
    return Reply("asked", replies=(words,), dialogue=half_named(state, named))


def half_named(state: ExamState, named: say.Eye | None) -> Dialogue | None:
    """Where the exchange stands after what was not understood, but named an eye; None where it stands as before.

    Nothing is asked yet: it may have been other talk. What comes next and names no eye is asked about.
    """
    if named is None or named.side_only or not state.listening or state.eye in (None, named.eye):
        return None
    return state.dialogue.model_copy(update={"eye_unclear": True})
