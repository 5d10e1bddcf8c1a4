"""Which rules of the grammar are listened for as the exam stands: answers to the open question first, then entries."""

from typing import Final

from voicelog.exam.questions import DISTANCE_UNCLEAR, Missing, Question
from voicelog.exam.state import ExamState
from voicelog.phrases import meanings as say

LINE: Final = "line"
IN_HAND: Final = "in_hand"
ANSWER: Final = "lone_answer"
UNASKED: Final = "unasked"
FIRST_DISTANCE: Final = "first_distance"
CLINIC: Final = "clinic"
_ANSWERS: Final[dict[Missing, str]] = {
    "confirm": "answers_confirm",
    "stayed": "answers_confirm",
    "eye": "answers_eye",
    "where": "answers_where",
    "habit": "answers_where",
    "axis": "answers_axis",
    "sign": "answers_sign",
    "size": "answers_power",
    "sphere": "answers_power",
    "value": "answers_power",
    "distance": "answers_distance",
    "motion": "answers_motion",
    "scope": "answers_scope",
    "reference": "answers_reference",
}


def rules(state: ExamState, *, typed: bool = False) -> tuple[str, ...]:
    """Names of rules, the likeliest first; what fits an earlier one is not looked for in a later.

    Lone answers to nothing, and a number alone before any distance is known, are understood in typed lines only:
    heard, they would be a home for stray words. So are the findings of a clinic that no recogniser is told of.
    """
    answers = () if state.question is None else (*_answers(state.question), ANSWER)
    in_hand = (IN_HAND,) if state.eye is not None else ()
    stray = (ANSWER, UNASKED) if typed else ()
    first = (FIRST_DISTANCE,) if typed and state.distance_cm is None else ()
    clinic = (CLINIC,) if typed else ()
    return tuple(dict.fromkeys((*answers, LINE, *in_hand, *first, *stray, *clinic)))


def _answers(question: Question) -> tuple[str, ...]:
    if question.doubt == DISTANCE_UNCLEAR:
        return (_ANSWERS["confirm"], _ANSWERS["distance"])
    if question.missing != "repeat":
        return (_ANSWERS[question.missing],)
    about = question.candidate.entry if isinstance(question.candidate, say.Correction) else question.candidate
    if isinstance(about, say.WorkingDistance):
        return ("answers_distance",)
    return ("answers_power",) if isinstance(about, say.Reading | say.Lenses | say.Addition) else ()
