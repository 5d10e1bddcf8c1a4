"""What the log answers to a meaning: enter it, ask about it, or say that it cannot be.

Pure: a state and a meaning give a reply. Numbers, signs, axes and eyes are never filled in: what is missing is asked.
"""

from dataclasses import dataclass, replace
from typing import Literal

from voicelog.exam import wording
from voicelog.exam.completing import powers, with_axis, with_first_gap_filled
from voicelog.exam.events import Outcome, Question
from voicelog.exam.ledger import CannotCorrectError
from voicelog.exam.plausible import doubts
from voicelog.exam.protocol import NO_REMINDERS, Reminders, reminder
from voicelog.exam.state import ExamState
from voicelog.exam.telling import tell
from voicelog.exam.unlikely import NO_EVIDENCE, Evidence, unlikely
from voicelog.phrases import meanings as say


@dataclass(frozen=True, slots=True)
class Reply:
    """What comes of a meaning.

    `entry` goes into the log; `question` is asked; `answers` is the event number of the question that is settled;
    `then` is an entry that had waited and is to be looked at next; `text` is said back.
    """

    outcome: Outcome
    entry: say.Meaning | None = None
    question: Question | None = None
    answers: int | None = None
    then: say.Meaning | None = None
    text: str = ""


def respond(
    state: ExamState,
    meaning: say.Meaning,
    *,
    sure: bool = True,
    heard: bool = False,
    evidence: Evidence = NO_EVIDENCE,
    reminders: Reminders = NO_REMINDERS,
) -> Reply:
    """The reply to a meaning.

    With `sure` False the recogniser had doubts, and it is asked about whatever it says. With `heard` the exam's own
    knowledge may ask as well, on the `evidence` there is. `reminders` says of what the reply to an entry reminds.
    """
    reply = _respond(state, meaning, evidence, sure=sure, heard=heard)
    if reply.outcome != "accepted" or reply.entry is None:
        return reply
    reminded = reminder(state, reply.entry, reminders)
    return replace(reply, text=f"{reply.text}; {reminded}") if reminded else reply


def _respond(state: ExamState, meaning: say.Meaning, evidence: Evidence, *, sure: bool, heard: bool) -> Reply:
    if not sure:
        return _unsure(state, meaning)
    why = unlikely(state, meaning, evidence) if heard and doubts(state, meaning) is None else None
    if why is not None and not _repeats(state, meaning):
        text = f"did you say: {wording.meaning(meaning)}? {why}"
        return Reply("asked", question=Question(missing="confirm", text=text, candidate=meaning), text=text)
    match meaning:
        case say.Answer() | say.LooseSign() | say.LooseAxis() | say.LoosePower():
            return _answered(state, meaning)
        case say.Eye(eye="right" | "left") if state.question and state.question.missing == "eye":
            return Reply("accepted", meaning, answers=state.question_number, then=state.question.candidate)
        case say.Tell():
            return Reply("accepted", text=tell(state, meaning))
        case say.Plain() if say.is_command(meaning):
            return Reply("accepted", text=wording.meaning(meaning))
        case say.Digit() | say.Distance() | say.LooseWhere():
            return Reply("ignored", text="nothing was asked")
        case _:
            return _enter(state, meaning, confirmed=_repeats(state, meaning))


def _repeats(state: ExamState, meaning: say.Meaning) -> bool:
    """Saying again what was asked about is as good as "yes"."""
    question = state.question
    return question is not None and question.missing == "confirm" and question.candidate == meaning


def _unsure(state: ExamState, meaning: say.Meaning) -> Reply:
    if isinstance(meaning, say.Answer | say.LooseSign | say.LooseAxis | say.LoosePower):
        return Reply("ignored", text="not clear; the question stays open" if state.question else "not clear")
    text = f"did you say: {wording.meaning(meaning)}?"
    return Reply("asked", question=Question(missing="confirm", text=text, candidate=meaning), text=text)


def _enter(
    state: ExamState, meaning: say.Meaning, *, confirmed: bool = False, answers: int | None = None
) -> Reply:
    question = doubts(state, meaning)
    if question is not None and not (confirmed and question.missing == "confirm"):
        return Reply("asked", question=question, answers=answers, text=question.text)
    try:
        state.ledger.with_entry(0, meaning)
    except CannotCorrectError as error:
        text = str(error)
        return Reply("asked", question=Question(missing="repeat", text=text), answers=answers, text=text)
    return Reply("accepted", meaning, answers=answers, text=wording.meaning(meaning))


def _answered(state: ExamState, meaning: say.Meaning) -> Reply:
    question = state.question
    if question is None:
        return Reply("ignored", text="nothing was asked")
    match meaning:
        case say.Answer(answer="again"):
            return Reply("accepted", question=question, answers=None, text=question.text)
        case say.Answer(answer="no"):
            return Reply("accepted", answers=state.question_number, text="not entered")
        case say.Answer(answer="yes"):
            if question.missing == "confirm" and say.is_command(question.candidate):
                return Reply("accepted", answers=state.question_number, then=question.candidate)
            if question.missing == "confirm" and question.candidate is not None:
                return _enter(state, question.candidate, confirmed=True, answers=state.question_number)
            return Reply("ignored", text=question.text)
        case _:
            return _filled(state, question, meaning)


def _filled(state: ExamState, question: Question, meaning: say.Meaning) -> Reply:
    """An answer that brings the missing part; anything else leaves the question open."""
    candidate = question.candidate
    if candidate is not None:
        completed = _completed(question, candidate, meaning)
        if completed is not None:
            return _enter(state, completed, answers=state.question_number)
    return Reply("ignored", text=question.text)


def _completed(question: Question, candidate: say.Meaning, meaning: say.Meaning) -> say.Meaning | None:
    match question.missing, meaning:
        case "axis", say.LooseAxis(axis_deg=axis):
            return with_axis(candidate, axis)
        case "sign", say.LooseSign(sign=sign):
            gap = next(power for power in powers(candidate) if power.dioptres is None)
            direction: Literal[1, -1] = 1 if sign == "plus" else -1
            return with_first_gap_filled(candidate, gap.with_sign(direction))
        case (("sign" | "size"), say.LoosePower(power=power)) if power.dioptres is not None:
            gap = next(power for power in powers(candidate) if power.dioptres is None)
            if gap.size_d is None or gap.size_d == power.size_d:
                return with_first_gap_filled(candidate, power)
            return None
        case _:
            return None
