"""What was perhaps said, where the grammar does not know the line: whether it is worth a question."""

from collections.abc import Sequence

from voicelog.exam.answering import is_answer
from voicelog.exam.orders import LIVE
from voicelog.exam.state import ExamState
from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.utterance import Utterance
from voicelog.phrases import meanings as say
from voicelog.phrases.grammar import LINE_RULE, Grammar
from voicelog.phrases.lines import TYPED, reader_of
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.outcome import Outcome

_NOTE = "note"
_SCRAP_WORDS = 2
_GUESSED = frozenset({"reading", "lenses", "eye", "working_distance"})
"""What is worth a question when it was only heard: a command or an answer can be said again."""
_OVER = _GUESSED | {"not_but", "change"}
"""What is worth one when the program spoke meanwhile."""


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


def is_scrap(outcome: Outcome, hearing: Hearing, utterance: Utterance | None) -> bool:
    """Whether what was heard with doubt over the program's own voice may be the end of its words.

    "At five" of "minus one point two five" is not worth a question, behind which the next readings would wait. What
    is no entry by itself can be said again.
    """
    if outcome != "asked" or utterance is None or not utterance.over_own:
        return False
    best = hearing.hypotheses[0]
    return len(best.text.split()) <= _SCRAP_WORDS or any(each.kind not in _OVER for each in best.meanings)


def is_sure(line: str, readings: Sequence[Meanings]) -> bool:
    """Whether a typed line says one thing and does not ask it of somebody: "so that is plus two at ninety?"."""
    asks = line.rstrip().endswith("?") and not all(isinstance(each, say.Tell) for each in readings[0])
    return len(readings) == 1 and not asks


def is_yes(readings: Sequence[Meanings]) -> bool:
    """Whether a line says yes and no more."""
    return tuple(readings) == ((say.Answer(answer="yes"),),)


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
