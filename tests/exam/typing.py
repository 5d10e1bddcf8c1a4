"""Typing an exam, as the tests of the exam do: phrases and exam only, without sound or storage."""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any, Literal

from tests.english import load
from voicelog.exam.answering import fitting
from voicelog.exam.breath import Reply
from voicelog.exam.events import Line, Started
from voicelog.exam.exchange import respond
from voicelog.exam.expecting import rules
from voicelog.exam.lost import not_understood
from voicelog.exam.protocol import NO_REMINDERS, Reminders
from voicelog.exam.state import ExamState, after
from voicelog.phrases import meanings as say
from voicelog.phrases.lines import TYPED, LineReader, NotAPhraseError, Understood

Naming = Literal["streak", "meridian"]
WHEN = datetime(2026, 5, 4, 9, 30, tzinfo=UTC)


class Typist:
    """One exam that is typed; every event is written as JSON and read back before it counts."""

    def __init__(
        self, naming: Naming = "streak", *, reminders: Reminders = NO_REMINDERS, **start: Any
    ) -> None:
        self.reminders = reminders
        self.state = after(None, Started(at=WHEN, naming=naming, **start))
        self.lines: list[Line] = []

    def understand(self, text: str) -> Understood:
        """What a phrase can say as the exam stands. Raises NotAPhraseError."""
        listened_for = " ".join(rules(self.state, typed=True))
        return LineReader(load(), listened_for, *TYPED).understand(text)

    def type(self, text: str) -> Line:
        """Take one phrase."""
        try:
            understood = self.understand(text)
        except NotAPhraseError as error:
            if error.begun:
                return self.take(error.begun, text, unclear=str(error))
            return self._append(text, (), not_understood(self.state, str(error), error.half))
        readings = fitting(self.state, understood.readings)
        return self.take(readings[0], text, sure=len(readings) == 1)

    def take(
        self,
        meanings: Iterable[say.Meaning],
        text: str = "",
        *,
        sure: bool = True,
        heard: bool = False,
        unclear: str = "",
    ) -> Line:
        """Take meanings as they are."""
        meanings = tuple(meanings)
        number = len(self.lines) + 1
        reply = respond(
            self.state,
            meanings,
            number=number,
            sure=sure,
            heard=heard,
            reminders=self.reminders,
            unclear=unclear,
        )
        return self._append(text, meanings, reply)

    def _append(self, text: str, meanings: tuple[say.Meaning, ...], reply: Reply) -> Line:
        line = Line(
            number=len(self.lines) + 1,
            at=WHEN,
            source="typed",
            text=text,
            meanings=meanings,
            outcome=reply.outcome,
            acts=reply.acts,
            answers=reply.answers,
            question=reply.question,
            dialogue=reply.dialogue,
            replies=reply.replies,
        )
        line = Line.model_validate_json(line.model_dump_json())
        self.lines.append(line)
        self.state = after(self.state, line)
        return line


def typed(lines: str, naming: Naming = "streak") -> tuple[list[Line], ExamState]:
    """What was answered to each line of a text, and the exam that it made."""
    typist = Typist(naming)
    answers = [typist.type(line) for line in lines.strip().splitlines()]
    return answers, typist.state


def exam(lines: str, naming: Naming = "streak") -> ExamState:
    """The exam that lines make; every line must be accepted."""
    answers, state = typed(lines, naming)
    assert [(each.text, each.reply) for each in answers if each.outcome != "accepted"] == []
    return state


def net(state: ExamState, eye: Literal["right", "left"]) -> str:
    """The refraction of one eye as it is written."""
    solution = state.eyes[eye].solution
    assert state.eyes[eye].status == "solved", state.eyes[eye].problems
    return str(solution.net)
