"""What settles a question: its natural answers, its own words, and the entry said again."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from voicelog.exam.gaps import SPELLED, powers, with_axis, with_first_gap_filled, with_power, with_where
from voicelog.exam.questions import AXIS_ALONE, DISTANCE_UNCLEAR, MERIDIANS, Question
from voicelog.exam.spans import within_span
from voicelog.exam.state import ExamState
from voicelog.phrases import meanings as say

_LOOSE = (
    say.Answer,
    say.LooseSign,
    say.LooseAxis,
    say.LoosePower,
    say.LooseWhere,
    say.Digit,
    say.Distance,
)

_DISTANCE_DENIED = f"{DISTANCE_UNCLEAR}:no"
_OF_DISTANCE = (say.WorkingDistance, say.SameDistance)
_DISTANCES = (say.Distance, say.WorkingDistance)
_MISHEARD = ("unsure", "unlikely", "in_hand")
_PUT_RIGHT_BY: Mapping[type[say.Model], tuple[str, ...]] = {
    say.LooseSign: _MISHEARD,
    say.LoosePower: (*_MISHEARD, SPELLED, "odd_power", "unusual_addition", "lens_for_another_distance"),
    say.LooseAxis: (*_MISHEARD, "axis_off_streak", AXIS_ALONE, MERIDIANS),
    say.LooseWhere: (*_MISHEARD, "axis_off_streak"),
    say.Place: (*_MISHEARD, "axis_off_streak"),
    **dict.fromkeys(_DISTANCES, (*_MISHEARD, "unusual_distance", "lens_for_another_distance")),
}
"""What may be said instead of yes or no: of a doubt, the parts that it is about."""


@dataclass(frozen=True, slots=True)
class Answered:
    """What an answer makes of the entry that waited.

    first    entered before it (the eye that was asked for)
    entry    the entry, complete as far as this answer goes; None: nothing waited
    rest     what was said in the same breath as the entry
    settled  doubts that are now laid to rest
    again    the question is to be said again
    closed   what was asked about does not go in
    """

    first: tuple[say.Meaning, ...] = ()
    entry: say.Meaning | None = None
    rest: tuple[say.Meaning, ...] = ()
    settled: tuple[str, ...] = ()
    again: bool = False
    closed: bool = False


def is_answer(meaning: say.Meaning) -> bool:
    """Whether a meaning is only ever an answer, or a part of something."""
    return isinstance(meaning, _LOOSE)


def answer(state: ExamState, question: Question, meaning: say.Meaning) -> Answered | None:
    """What a meaning makes of the question in hand; None when it is no answer to it."""
    if question.missing == "stayed" and isinstance(meaning, say.Answer) and meaning.answer in ("yes", "no"):
        return _going_on(question, question.candidate, f"stayed:{meaning.answer}")
    if isinstance(meaning, say.Answer) and meaning.answer == "no" and _may_deny_distance(question):
        return _going_on(question, question.candidate, _DISTANCE_DENIED)
    if isinstance(meaning, say.Answer) and meaning.answer in ("again", "no", "leave"):
        return Answered(again=meaning.answer == "again", closed=meaning.answer != "again")
    if question.missing == "confirm":
        return _confirmed(question, meaning)
    if question.missing == "eye":
        return _eye(state, question, meaning)
    if question.missing == "scope":
        return _scope(question, meaning)
    if question.missing == "habit":
        return _habit(question, meaning)
    if question.missing == "reference":
        return Answered(entry=meaning) if isinstance(meaning, say.Reference) else None
    if question.candidate is None and question.missing == "distance":
        return _first_distance(question, meaning)
    completed = None if question.candidate is None else _completed(question, question.candidate, meaning)
    return None if completed is None else _going_on(question, completed)


def late_answer(state: ExamState, question: Question, meaning: say.Meaning) -> Answered | None:
    """What "call it plus two and a quarter" settles where it waited beside the span it is of."""
    if question.missing != "value" or not isinstance(meaning, say.Correction) or meaning.wrong is not None:
        return None
    return answer(state, question, meaning.entry)


def fitting(
    state: ExamState, readings: Sequence[tuple[say.Meaning, ...]]
) -> Sequence[tuple[say.Meaning, ...]]:
    """Of what a line can say, what settles the question in hand; all of it where nothing does."""
    question = state.question
    if question is None or len(readings) < 2:
        return readings
    answers = [each for each in readings if answer(state, question, _telling(each)) is not None]
    return answers or readings


def _telling(reading: Sequence[say.Meaning]) -> say.Meaning:
    """What a reading settles a question by: behind "no" by what is right instead ("no, sixty seven")."""
    denied = isinstance(reading[0], say.Answer) and reading[0].answer == "no"
    return reading[1] if denied and len(reading) > 1 else reading[0]


def _first_distance(question: Question, meaning: say.Meaning) -> Answered | None:
    if isinstance(meaning, say.Distance):
        meaning = say.WorkingDistance(distance=meaning.distance_cm)
    return _going_on(question, meaning) if isinstance(meaning, say.WorkingDistance) else None


def _may_deny_distance(question: Question) -> bool:
    """Whether "no" asks for the distance: it is asked whether that is as before, and was not denied yet."""
    return question.doubt == DISTANCE_UNCLEAR and _DISTANCE_DENIED not in question.settled


def _going_on(question: Question, entry: say.Meaning | None, *settled: str) -> Answered:
    return Answered(entry=entry, rest=question.rest, settled=(*question.settled, *settled))


def _confirmed(question: Question, meaning: say.Meaning) -> Answered | None:
    """Yes, or the same said again; or what is right instead."""
    candidate = question.candidate
    if candidate is None:
        return None
    yes = isinstance(meaning, say.Answer) and meaning.answer == "yes"
    if yes and _DISTANCE_DENIED in question.settled:
        return None  # "which distance is it?" is not answered so
    if yes or meaning == candidate or _says_the_same(question, meaning):
        return _going_on(question, candidate, question.doubt)
    if question.doubt == DISTANCE_UNCLEAR and isinstance(meaning, say.Distance | say.WorkingDistance):
        other = say.WorkingDistance(distance=meaning.distance_cm)
        return Answered((other,), candidate, question.rest, question.settled)
    if question.doubt not in _PUT_RIGHT_BY.get(type(meaning), ()):
        return None
    instead = with_part(candidate, meaning)
    return None if instead is None else Answered(entry=instead, rest=question.rest)


def _says_the_same(question: Question, meaning: say.Meaning) -> bool:
    """Whether it is what was asked about: "nought", of no lens; the power that was read back, its sign said or not."""
    if not isinstance(meaning, say.LoosePower) or question.candidate is None:
        return False
    if question.doubt == "no_lens":
        return meaning.power.size_d == 0
    asked, said = list(powers(question.candidate)), meaning.power
    if len(asked) != 1:
        return False
    return asked[0] == said or (
        said.sign is None and said.size_d is not None and asked[0].size_d == said.size_d
    )


def with_part(candidate: say.Meaning, meaning: say.Meaning) -> say.Meaning | None:
    """The entry that waits with the one part that an answer brings; None when it does not fit."""
    match meaning:
        case say.LoosePower(power=power) if power.dioptres is not None:
            return with_power(candidate, power)
        case say.LooseSign(sign=sign):
            found = list(powers(candidate))
            return with_power(candidate, found[0].with_sign(_sign(sign))) if len(found) == 1 else None
        case say.LooseAxis(axis_deg=axis):
            turned = with_axis(candidate, axis)
            return turned if turned != candidate else None
        case say.LooseWhere(where=where) | say.Place(where=where):
            return with_where(candidate, where)
        case say.Distance(distance_cm=distance) | say.WorkingDistance(distance_cm=distance, eye=None) if (
            isinstance(candidate, say.WorkingDistance)
        ):
            return candidate.model_copy(update={"distance_cm": distance})
        case _:
            return None


def _sign(sign: Literal["plus", "minus"]) -> Literal[1, -1]:
    return 1 if sign == "plus" else -1


def _eye(state: ExamState, question: Question, meaning: say.Meaning) -> Answered | None:
    if not isinstance(meaning, say.Eye):
        return None
    eye = meaning.eye
    if eye == "other" and state.eye is not None:
        eye = "left" if state.eye == "right" else "right"
    candidate = question.candidate
    if isinstance(candidate, say.Drops) and eye != "other":
        return _going_on(question, candidate.model_copy(update={"eye": eye}))
    if eye not in ("right", "left"):
        return None
    named = say.Eye(eye=eye)
    if isinstance(candidate, say.Eye):
        candidate = None
    return Answered(first=(named,), entry=candidate, rest=question.rest, settled=question.settled)


def _scope(question: Question, meaning: say.Meaning) -> Answered | None:
    """Both, one of them; yes and "all of them" are both, for that is what the question names first."""
    is_both = (isinstance(meaning, say.Answer) and meaning.answer == "yes") or (
        isinstance(meaning, say.Scope) and meaning.scope == "all"
    )
    if is_both:
        return _going_on(question, question.candidate, "scope:both")
    if isinstance(meaning, say.Eye) and meaning.eye != "other":
        return _going_on(question, question.candidate, f"scope:{meaning.eye}")
    return None


def _habit(question: Question, meaning: say.Meaning) -> Answered | None:
    if isinstance(meaning, say.Habit):
        return Answered((meaning,), question.candidate, question.rest, question.settled)
    if isinstance(meaning, say.LooseWhere | say.Place) and meaning.where.names is not None:
        first = say.Habit(naming=meaning.where.names)
        return Answered((first,), question.candidate, question.rest, question.settled)
    return None


def _completed(question: Question, candidate: say.Meaning, meaning: say.Meaning) -> say.Meaning | None:
    """The entry with the part that was missing; anything else leaves the question open."""
    match question.missing, meaning:
        case "axis", say.LooseAxis(axis_deg=axis):
            return with_axis(candidate, axis)
        case "where", say.LooseWhere(where=where) | say.Place(where=where):
            return with_where(candidate, where)
        case (("sign" | "size"), say.LooseSign() | say.LoosePower()):
            return _gap_filled(candidate, meaning)
        case "sphere", say.LoosePower(power=power) if power.dioptres is not None:
            return _with_sphere(candidate, power)
        case "sphere", say.Refined() | say.Spectacles():
            return _with_sphere_said(candidate, meaning)
        case "motion", say.Reading(where=None, lens=None, motion="with" | "against" | "neutral" as motion):
            return candidate.model_copy(update={"motion": motion})
        case "value", say.LoosePower(power=power):
            lens = say.Lens(sphere=within_span(candidate, power))
            return candidate.model_copy(update={"between": None, "lens": lens})
        case (("distance" | "repeat"), say.Distance() | say.WorkingDistance()):
            return _distance_instead(candidate, meaning) if isinstance(candidate, _OF_DISTANCE) else None
        case "repeat", say.LoosePower() | say.LooseAxis() | say.LooseWhere() | say.Place():
            return with_part(candidate, meaning)
        case _:
            return None


def _distance_instead(
    candidate: say.Meaning, meaning: say.Distance | say.WorkingDistance
) -> say.WorkingDistance:
    """The distance that was asked for: of the eye that was asked about, where none is named."""
    eye = meaning.eye if isinstance(meaning, say.WorkingDistance) else None
    if eye is None and isinstance(candidate, say.WorkingDistance):
        eye = candidate.eye
    return say.WorkingDistance(distance=meaning.distance_cm, eye=eye)


def _gap_filled(candidate: say.Meaning, meaning: say.Meaning) -> say.Meaning | None:
    gap = next((power for power in powers(candidate) if power.dioptres is None), None)
    if gap is None:
        return None
    if isinstance(meaning, say.LooseSign):
        whole = None if gap.size_d is None else gap.with_sign(_sign(meaning.sign))
        return None if whole is None else with_first_gap_filled(candidate, whole)
    if not isinstance(meaning, say.LoosePower) or meaning.power.dioptres is None:
        return None
    # Another size than was asked about is no answer to "plus or minus?".
    same = gap.size_d is None or gap.size_d == meaning.power.size_d
    return with_first_gap_filled(candidate, meaning.power) if same else None


def _with_sphere_said(candidate: say.Meaning, said: say.Refined | say.Spectacles) -> say.Meaning | None:
    """The sphere by an entry of its own, "refined sphere minus two", joins the cylinder that waits for it."""
    alone = said.lens.cylinder is None and not said.lens.on_top
    if type(candidate) is not type(said) or not alone or said.lens.sphere is None:
        return None
    if said.eye not in (None, getattr(candidate, "eye", None)):
        return None
    return _with_sphere(candidate, said.lens.sphere)


def _with_sphere(candidate: say.Meaning, power: say.Power) -> say.Meaning | None:
    if not isinstance(candidate, say.Refined | say.Spectacles):
        return None
    return candidate.model_copy(update={"lens": candidate.lens.model_copy(update={"sphere": power})})
