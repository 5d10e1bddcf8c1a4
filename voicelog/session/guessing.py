"""What was perhaps said, where the grammar does not know the line: whether it is worth a question."""

from voicelog.exam.answering import is_answer
from voicelog.exam.orders import LIVE
from voicelog.exam.state import ExamState
from voicelog.hearing.engines.protocol import Hearing
from voicelog.phrases import meanings as say
from voicelog.phrases.grammar import LINE_RULE, Grammar
from voicelog.phrases.lines import TYPED, reader_of
from voicelog.phrases.matcher import Meanings

_NOTE = "note"
_GUESSED = frozenset({"reading", "lenses", "eye", "working_distance"})
"""What is worth a question when it was only heard: a command or an answer can be said again."""


def note_heard(grammar: Grammar, hearing: Hearing) -> Meanings | None:
    """The note that was said, if one was: its words are in no grammar, so they are taken as they were heard."""
    understood = reader_of(grammar, _NOTE, *TYPED).phrase(hearing.free_text)
    told = () if understood is None else understood.readings[0]
    return told if any(isinstance(each, say.Note) and each.text for each in told) else None


def guess_heard(grammar: Grammar, hearing: Hearing, state: ExamState) -> Meanings | None:
    """What was said as it was heard without the grammar, where that is one entry with other words beside it.

    None while a question is open: another would only be in the way.
    """
    understood = reader_of(grammar, LINE_RULE, *TYPED).loosely(hearing.free_text)
    if understood is None or len(understood.readings) != 1 or state.dialogue.questions:
        return None
    (reading,) = understood.readings
    return reading if all(each.kind in _GUESSED for each in reading) else None


def may_ask_typed(reading: Meanings, state: ExamState) -> bool:
    """Whether a guess at a typed line is worth a question: no answer, which is asked for anyway, and no order.

    What comes next may have to wait for the answer: a question to the log beside something else is not worth that.
    While a question is open another would only be in the way; but of an eye that is asked for and named with doubt
    ("the right, I think") it is asked whether.
    """
    if any(isinstance(each, say.Habit) and each.naming == state.naming for each in reading):
        return False  # it is so already
    asked = state.question
    if asked is not None and asked.missing == "eye" and [type(each) for each in reading] == [say.Eye]:
        return state.listening
    if (
        not state.listening
        or state.dialogue.questions
        or any(is_answer(each) or each.kind in LIVE for each in reading)
    ):
        return False
    (first, *rest) = reading
    if (
        isinstance(first, say.Reading)
        and first.motion == "not_neutral"
        and first.lens is None
        and first.where is None
    ):
        return False  # "over there"
    return not rest or not any(map(say.is_command, reading))
