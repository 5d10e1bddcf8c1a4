"""One patient after the other: the reference is asked for, and a finished exam hears only what begins the next."""

from collections.abc import Sequence
from dataclasses import replace

from voicelog.exam.breath import Reply
from voicelog.exam.entries import AgeEntry
from voicelog.exam.events import Act, OpenQuestion, Remove, Started
from voicelog.exam.questions import ORDER, Question
from voicelog.exam.state import ExamState
from voicelog.phrases import meanings as say

REFERENCE = Question(missing="reference", text="which reference?")
OVER = 'the exam is finished: say "next patient"'


def reference_asked(state: ExamState, number: int) -> Reply:
    """The log's own question at the beginning of an exam, as event `number`."""
    opened = OpenQuestion(number=number, question=REFERENCE)
    dialogue = state.dialogue.model_copy(update={"questions": (*state.dialogue.questions, opened)})
    after = replace(state, dialogue=dialogue)
    return Reply("asked", question=REFERENCE, dialogue=dialogue, replies=(REFERENCE.text,), after=after)


def beginning_with(started: Started, reference: str) -> Started:
    """The beginning of the same exam with a reference."""
    return started.model_copy(update={"reference": reference})


def referred(state: ExamState, reference: str) -> ExamState:
    """The state of an exam that began with a reference."""
    first, *later = state.events
    if isinstance(first, Started):
        first = beginning_with(first, reference)
    return replace(state, reference=reference, events=(first, *later))


def age_of_another(state: ExamState) -> Act | None:
    """The act that takes out the ages that were entered, before a reference is said: they are of somebody else."""
    ages = [each for each in state.findings.found if isinstance(each.entry, AgeEntry)]
    if not ages:
        return None
    words = f"age {ages[-1].entry.value_words()} taken out"
    return Act(changes=tuple(Remove(id=each.id) for each in ages), words=words)


def is_over(state: ExamState) -> bool:
    """Whether an exam is finished and nothing is asked that would go on with it."""
    return state.ended and not (state.question is not None and state.question.doubt == ORDER)


def goes_on(meanings: Sequence[say.Meaning]) -> bool:
    """Whether it is what a finished exam hears."""
    return len(meanings) == 1 and meanings[0].kind == "next_patient"
