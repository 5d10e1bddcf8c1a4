"""Which question follows another, which is moot, and what is asked beside an entry."""

from collections.abc import Sequence
from typing import Final

from voicelog.exam import said_parts, wording
from voicelog.exam.entries import RIGHT_WORD, other_eye
from voicelog.exam.questions import AXIS_ALONE, COMES_OUT, Question
from voicelog.exam.state import ExamState
from voicelog.exam.targets import cylinder_of, has_cylinder, in_hand
from voicelog.phrases import meanings as say

NEED_THE_DISTANCE: Final = ("net", "cylinder", "equivalent", "other_form", "plus_form", "minus_form")


ALL_ROUND: Final = Question(
    missing="confirm",
    text="neutral all round with it?",
    candidate=say.Reading(motion="neutral", where=say.Where(names=None, which="both")),
    doubt="all_round",
)


def asked_otherwise(refused: Question) -> Question | None:
    """After a "no" to what readings wait for: which then? None where they can go in as it was before."""
    candidate = refused.candidate
    if refused.missing == "eye" or refused.doubt == RIGHT_WORD:
        return None
    match candidate:
        case say.WorkingDistance():
            return Question(missing="distance", text="which working distance?", candidate=candidate)
        case say.Lenses() | say.WorkingLens():
            return Question(
                missing="repeat", text="which lens is in place? Say it again", candidate=candidate
            )
        case say.Eye():
            return Question(missing="eye", text="which eye, right or left?")
        case _:
            return None


def same_thing(candidate: say.Meaning | None, meaning: say.Meaning) -> bool:
    """Whether a meaning says the entry again that a question is about."""
    if candidate is None or type(candidate) is not type(meaning):
        return False
    if isinstance(candidate, say.Reading) and isinstance(meaning, say.Reading):
        return candidate.where == meaning.where and candidate.eye == meaning.eye
    if isinstance(candidate, say.Correction) and isinstance(meaning, say.Correction):
        return type(candidate.entry) is type(meaning.entry)
    if isinstance(candidate, say.Lenses) and isinstance(meaning, say.Lenses):
        return (candidate.remove is None) == (meaning.remove is None)
    if isinstance(candidate, say.Acuity) and isinstance(meaning, say.Acuity):
        return (candidate.eye, candidate.correction) == (meaning.eye, meaning.correction)
    return getattr(candidate, "eye", None) == getattr(meaning, "eye", None) or isinstance(meaning, say.Eye)


def in_full(question: Question, meaning: say.Meaning) -> bool:
    """Whether it is named in full: a sphere where a step on top of nothing was asked about, or what comes out."""
    if question.doubt == COMES_OUT:
        return isinstance(meaning, say.Lenses) and meaning.remove in ("all", "cylinder")
    step = question.candidate
    if not isinstance(step, say.Lenses) or step.lens is None or not step.lens.on_top:
        return False
    lens = meaning.lens if isinstance(meaning, say.Reading) else None
    return lens is not None and lens.sphere is not None and not lens.on_top


def is_whole_lens(state: ExamState, meaning: say.Meaning) -> bool:
    """Whether sphere and cylinder are named of an eye without readings, where the other was neutral all round."""
    lens = meaning.lens if isinstance(meaning, say.Lenses) else None
    if state.eye is None or lens is None or lens.sphere is None or lens.cylinder is None:
        return False
    here, there = state.eyes[state.eye], state.eyes[other_eye(state.eye)]
    return not here.passes and any(each.entry.all_round for each in there.readings)


def only_the_distance_lacks(state: ExamState) -> bool:
    """Whether a result waits for the working distance, and nothing asks for it yet."""
    asked = any(each.question.missing == "distance" for each in state.dialogue.questions)
    lacks = any(
        each.code == "distance_missing" and len(eye.problems) == 1
        for eye in state.eyes.values()
        for each in eye.problems
    )
    return lacks and not asked and state.distance_cm is None


def about_the_whole(question: Question, part: say.Meaning, whole: say.Meaning | None) -> Question:
    """A question about a part as one about the whole that waits with it."""
    if whole is None or question.candidate != part:
        return question
    return question.model_copy(update={"candidate": whole})


def neutral_here(power: say.Power, place: str) -> Question:
    """A lone power after a place may be neutral there, or only a lens put in: it is asked."""
    reading = say.Reading(motion="neutral", lens=say.Lens(sphere=power))
    return Question(
        missing="confirm",
        text=f"{place} neutral at {said_parts.power(power)}?",
        candidate=reading,
        doubt="in_hand",
    )


def axis_alone(state: ExamState, said: say.LooseAxis) -> say.Correction | Question | None:
    """What an axis and nothing else may put right: the last cylinder of the eye in hand, or its two meridians.

    Another axis of a cylinder is asked about. None where the eye has neither.
    """
    correction = say.Correction(entry=said)
    rows = [row for row in state.ledger.live if has_cylinder(row)]
    here = [row for row in rows if in_hand(state, row)]
    if here:
        cylinder = cylinder_of(here[-1])
        if not 1 <= said.axis_deg <= 180 or (cylinder is not None and cylinder.axis_deg == said.axis_deg):
            return correction  # it is said why nothing changes
        text = f"axis {said_parts.angle(said.axis_deg)} in {here[-1].entry.words()}?"
        return Question(missing="confirm", text=text, candidate=correction, doubt=AXIS_ALONE)
    neutral = () if state.eye is None else state.eyes[state.eye].neutral
    return correction if len(neutral) == 2 and not rows else None


def other_one(state: ExamState, said: say.LooseWhere) -> Question | None:
    """ "The other one", with both meridians of the eye in hand neutral: it may be the other eye, so it is asked."""
    if said.where.which != "other" or state.eye is None or len(state.eyes[state.eye].neutral) != 2:
        return None
    eye = other_eye(state.eye)
    return Question(missing="confirm", text=f"the {eye} eye?", candidate=say.Eye(eye=eye), doubt="other_one")


def eye_of_another(state: ExamState, meanings: Sequence[say.Meaning]) -> say.Reading | None:
    """The reading that waits for its eye, where the eye that opens a breath may be no answer to that.

    "Streak vertical minus two", "which eye?", "left eye, streak vertical minus one" may begin the second eye: with the
    same place read otherwise behind it, or two meridians waiting, which are all that is read of an eye, it is asked
    again which eye the first was, and all of the breath waits. The right eye is read first: common practice, no source.
    """
    question = state.question
    if question is None or question.missing != "eye" or not meanings or not isinstance(meanings[0], say.Eye):
        return None
    waiting = (question.candidate, *question.rest, *state.dialogue.waiting)
    before = [each for each in waiting if isinstance(each, say.Reading) and each.where is not None]
    said = [each for each in meanings[1:] if isinstance(each, say.Reading)]
    if len({each.where for each in before}) > 1 and _may_be_the_second(state, meanings[0]):
        return before[0]
    return next((one for one in before for each in said if one.where == each.where and one != each), None)


def _may_be_the_second(state: ExamState, said: say.Eye) -> bool:
    """Whether "left eye" may open the second eye: not at once behind the question, nor when it was asked again.

    The right eye may as well, where the eye before was named and not understood.
    """
    opened = state.open_question
    at_once = opened is None or opened.number == state.last_number
    asked_again = any(isinstance(each, say.Eye) for each in state.dialogue.waiting)
    second = said.eye == "left" and not state.eyes["right"].passes
    return (second or state.dialogue.eye_unclear) and not at_once and not asked_again


def eye_of_waiting(state: ExamState, said: say.Meaning) -> Question | None:
    """Which eye it was that waits for a yes to an eye, where another eye is named instead of yes or no.

    "Did you say: left eye?", "vertical plus one", "right eye": the vertical may be of either.
    """
    question, waiting = state.question, state.dialogue.waiting
    if question is None or question.missing != "confirm" or not waiting or isinstance(waiting[0], say.Eye):
        return None
    if (
        not isinstance(said, say.Eye)
        or not isinstance(question.candidate, say.Eye)
        or said == question.candidate
    ):
        return None
    return Question(missing="eye", text=f"which eye was {wording.meaning(waiting[0])}?", candidate=waiting[0])


def is_of_later(state: ExamState, said: say.Meaning) -> bool:
    """Whether an entry is of an eye that waits: no answer to a question from before it, nor what was asked about again.

    Something was read in between. "Which working distance?" is answered by one all the same.
    """
    question = state.question
    if question is None or not isinstance(said, say.WorkingDistance | say.Reading | say.Lenses):
        return False
    if isinstance(said, say.WorkingDistance) and (
        question.missing != "confirm" or said == question.candidate
    ):
        return False
    since = (question.candidate, *question.rest, *state.dialogue.waiting)
    readings = [at for at, each in enumerate(since) if isinstance(each, say.Reading)]
    return bool(readings) and any(isinstance(each, say.Eye) for each in since[readings[0] :])
