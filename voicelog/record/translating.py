"""Old events as events of today: what was entered then, full of gaps, becomes complete entries.

Doubts that were asked about or not even raised then are laid to rest, for the entry was made. Where today's rules would
ask what nobody can answer any more, the choice of the old program is used. What still cannot be entered stays a line
without acts, and the record says so.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from voicelog.exam.events import Alternative, Dialogue, Heard, Line, OpenQuestion
from voicelog.exam.questions import Question
from voicelog.exam.state import ExamState
from voicelog.phrases import meanings as say
from voicelog.record.amending import put_right, taken_out
from voicelog.record.events import Amended
from voicelog.record.old_events import OldAmended, OldHeard, Said
from voicelog.record.translating_acts import acts_of


@dataclass(frozen=True, slots=True)
class Translated:
    """A line of today, and why what was entered then could not be taken up; "" when it was."""

    line: Line
    not_taken_up: str = ""


def line_of(state: ExamState, said: Said, earlier: Sequence[object]) -> Translated:
    """The line that an old event makes, `earlier` being the events of the exam before it."""
    acts, why = acts_of(state, said, tuple(each for each in earlier if isinstance(each, Said)))
    return Translated(
        Line(
            number=said.number,
            at=said.at,
            source=said.source,
            text=said.text,
            meanings=() if said.meaning is None else (said.meaning,),
            outcome=said.outcome,
            acts=acts,
            answers=said.answers,
            question=_question(said),
            dialogue=_dialogue(state.dialogue, said),
            replies=(said.reply,) if said.reply else (),
            heard=None if said.heard is None else _heard(said.heard),
        ),
        why,
    )


def amendment_of(state: ExamState, old: OldAmended) -> Amended:
    """The amendment that an old one makes. Raises CannotFollowError when its entry does not count today."""
    entry_id = str(old.entry)
    act = taken_out(state, entry_id) if old.meaning is None else put_right(state, entry_id, old.meaning)
    return Amended.model_validate(
        {
            "number": old.number,
            "at": old.at,
            "by": old.by,
            "reason": old.reason,
            "text": old.text,
            "changes": act.changes,
            "words": act.words,
        }
    )


def _question(said: Said) -> Question | None:
    old = said.question
    return None if old is None else Question(missing=old.missing, text=old.text, candidate=old.candidate)


def _dialogue(before: Dialogue, said: Said) -> Dialogue:
    """An old exam had one question at a time; an entry closed it, an order to the log did not."""
    questions, listening = before.questions, before.listening
    question = _question(said)
    if said.outcome == "asked":
        questions = () if question is None else (OpenQuestion(number=said.number, question=question),)
    elif said.outcome == "accepted":
        if question is None and not _is_order(said.meaning):
            questions = ()
        if isinstance(said.meaning, say.Plain):
            listening = {"pause": False, "resume": True}.get(said.meaning.kind, listening)
    return Dialogue(questions=questions, listening=listening)


def _is_order(meaning: say.Meaning | None) -> bool:
    return say.is_command(meaning) or isinstance(meaning, say.Note)


def _heard(old: OldHeard) -> Heard:
    data = {name: getattr(old, name) for name in OldHeard.model_fields if name != "alternatives"}
    return Heard(
        **data,
        alternatives=tuple(
            Alternative(text=each.text, meanings=(each.meaning,), log_probability=each.log_probability)
            for each in old.alternatives
        ),
    )
