"""What is put right while a question is open: "that" is then what was asked about, not what was entered before it."""

from voicelog.exam.answering import Answered, answer, with_part
from voicelog.exam.gaps import with_power
from voicelog.exam.questions import Question
from voicelog.exam.state import ExamState
from voicelog.phrases import meanings as say

_PARTS = (say.LooseSign, say.LoosePower, say.LooseAxis, say.LooseWhere)


def put_right(state: ExamState, question: Question, meaning: say.Meaning) -> Answered | None:
    """What "make that plus three", "sorry, horizontal" or "that was the left" makes of the entry that waits.

    None where the entry has no such part, or where something else is named: another value, or another eye.
    """
    candidate = question.candidate
    if candidate is None or say.is_command(candidate):
        return None
    if isinstance(meaning, say.Move):
        plain = meaning.scope == "last" and meaning.where is None and meaning.eye in ("right", "left")
        return _in_eye(state, question, say.Eye(eye=meaning.eye)) if plain else None
    if not isinstance(meaning, say.Correction) or meaning != say.Correction(entry=meaning.entry):
        return None
    part = meaning.entry
    if isinstance(part, say.Reading):
        return _seen(question, candidate, part)
    if isinstance(part, say.Eye) and question.missing == "eye":
        return answer(state, question, part)
    if not isinstance(part, _PARTS):
        return None
    found = answer(state, question, part)
    if found is not None and not (question.missing == "confirm" and found.entry == candidate):
        return found
    # A value put right by the same one is no yes: "axis 105 is not along the streak, is it right?", "correction -2.75".
    instead = _with(candidate, part)
    return None if instead is None else Answered(entry=instead, rest=question.rest, settled=question.settled)


def _with(candidate: say.Meaning, part: say.Meaning) -> say.Meaning | None:
    """The entry that waits with another part; of a power the sign may be asked for again."""
    if isinstance(part, say.LoosePower):
        return with_power(candidate, part.power)
    return with_part(candidate, part)


def _in_eye(state: ExamState, question: Question, eye: say.Eye) -> Answered | None:
    """The entry that waits, in the eye that it was of."""
    if question.missing == "eye":
        return answer(state, question, eye)
    if not isinstance(question.candidate, say.Reading | say.Lenses):
        return None
    return Answered((eye,), question.candidate, question.rest, question.settled)


def _seen(question: Question, candidate: say.Meaning, look: say.Reading) -> Answered | None:
    """The look that waits, with what was seen instead, where nothing else of it is said anew."""
    if not isinstance(candidate, say.Reading) or look != say.Reading(motion=look.motion):
        return None
    seen = candidate.model_copy(update={"motion": look.motion})
    return Answered(entry=seen, rest=question.rest, settled=question.settled)
