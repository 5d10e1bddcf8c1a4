"""What was said and is lost to a fault of the program: it may have named the other eye, so nothing counts before that
is settled."""

from typing import Final

from voicelog.exam.breath import Breath, Reply
from voicelog.exam.protocol import NO_REMINDERS
from voicelog.exam.questions import Question
from voicelog.exam.state import ExamState

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
