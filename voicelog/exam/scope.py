"""Which eyes a change is for, where it could be more than one: asked, never taken for granted."""

from voicelog.exam.entries import Context, other_eye
from voicelog.exam.questions import NeedsAnswer, Question
from voicelog.exam.standing import EYES
from voicelog.exam.state import ExamState
from voicelog.phrases import meanings as say


def eyes_meant(
    state: ExamState,
    named: say.EyeNamed | None,
    *,
    context: Context | None = None,
    what: str = "",
    among: tuple[say.OneEye, ...] | None = None,
) -> tuple[say.OneEye, ...]:
    """The eyes that a change is for: those named; else those that have readings, asked about where both have.

    `among` are the eyes it could be for. Raises NeedsAnswer.
    """
    if named == "both":
        return EYES
    if named is not None:
        here = state.eye
        return (other_eye(here),) if named == "other" and here else (named,) if named != "other" else ()
    candidates = among if among is not None else tuple(eye for eye in EYES if state.eyes[eye].passes)
    if len(candidates) < 2 or context is None:
        return candidates
    answer = context.answered("scope")
    if answer is None:
        text = f"{what}: for both eyes, the right or the left?"
        raise NeedsAnswer(
            Question(missing="scope", text=text, candidate=context.meaning, settled=context.settled)
        )
    return EYES if answer == "both" else tuple(eye for eye in EYES if eye == answer)
