"""Other talk, typed into an examination: what of it was entered, and which questions it answered."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from tests.phrases.said.lists import CONTEXTS, opened, sentences
from voicelog.exam.events import Line
from voicelog.exam.state import ExamState

MOMENTS = (
    "eye+distance known",
    "both meridians known",
    *(each for each in CONTEXTS if "question open" in each),
)
"""Nothing asked, and each kind of question open."""


@dataclass(frozen=True, slots=True)
class Stray:
    """A sentence that was for nobody but the patient, and did something to the examination all the same.

    `did`: "entered", "answered" the open question, "ordered" (paused or ended the examination), or "asked": it only
    made the log ask.
    """

    id: str
    speaker: str
    sentence: str
    moment: str
    did: str
    reply: str


def strays(path: Path) -> Iterator[Stray]:
    """The sentences of a list that do something, at every moment."""
    for number, speaker, sentence in sentences(path):
        for moment in MOMENTS:
            session = opened(moment)
            before = session.state
            line = session.type_line(sentence)
            did = what_it_did(before, session.state, line)
            if did is not None:
                yield Stray(number, speaker, sentence, moment, did, line.reply)


def what_it_did(before: ExamState, after: ExamState, line: Line) -> str | None:
    """What a line did to an examination, in a word of `Stray`; None: nothing."""
    if line.answers is not None:
        return "answered"
    if line.acts:
        return "entered"
    if (after.ended, after.listening) != (before.ended, before.listening):
        return "ordered"
    return "asked" if line.question is not None and after.question != before.question else None
