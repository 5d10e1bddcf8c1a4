"""Typing an exam, as the tests of the exam do."""

from typing import Literal

from voicelog.exam.events import Said
from voicelog.exam.state import ExamState
from voicelog.session import Session
from voicelog.settings import Settings

Naming = Literal["streak", "meridian"]


def typed(lines: str, naming: Naming = "streak") -> tuple[list[Said], ExamState]:
    """What was answered to each line of a text, and the exam that it made."""
    session = Session(Settings(naming=naming))
    answers = [session.type_line(line) for line in lines.strip().splitlines()]
    return answers, session.state


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
