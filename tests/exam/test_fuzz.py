"""Whole exams at random, line by line against a second account of them that shares no code with the log."""

import copy
import re
from collections import Counter
from random import Random
from typing import Any

import pytest

from tests.exam.fuzzing import next_action, sheet_of_log, sheet_of_person
from tests.exam.reference import Action, Sheet
from tests.exam.typing import Typist
from voicelog.exam.events import Line
from voicelog.exam.ledger import Row
from voicelog.exam.state import ExamState
from voicelog.exam.summary import summary

Told = dict[str, Any]
LINES_AN_EXAM = 40
OUTCOMES = {
    "enter": {"accepted"},
    "ask": {"asked"},
    "refuse": {"asked"},
    "wait": {"asked"},
    "drop": {"accepted", "asked"},
    "nothing": {"ignored", "asked"},  # asked: a sign alone is no line where no question is open
    "answer": {"accepted", "asked"},
}


def run(seed: int, lines: int) -> None:
    """Exams of `LINES_AN_EXAM` lines until `lines` were said; every line compared."""
    random = Random(seed)
    came = Counter[str]()
    for _ in range(lines // LINES_AN_EXAM):
        one_exam(random, came)
    assert came["accepted"] > 0.4 * lines, "too few lines were entered for the comparison to say much"


def one_exam(random: Random, came: Counter[str]) -> None:
    typist, sheet, said = Typist(), Sheet(), []
    back = TakenBack()
    for number in range(LINES_AN_EXAM):
        action = next_action(random, number, asked=bool(typist.state.dialogue.questions))
        said.append(action.text)
        before = rows(typist)
        expected = sheet.hear(copy.deepcopy(action))
        line = typist.type(action.text)
        came[line.outcome] += 1
        where = "\n".join(said) + f"\n-> {line.outcome}: {line.reply}"
        assert line.outcome in OUTCOMES[expected], f"{expected} was expected\n{where}"
        assert sheet_of_log(typist.state) == sheet_of_person(sheet), where
        assert len(typist.state.dialogue.questions) == len(sheet.asking), where
        if line.outcome == "asked" and not line.acts:
            assert rows(typist) == before, where
        unnamed_stays(action, before, rows(typist), line.reply, where)
        back.check(typist, line, where)
    everything_is_found(typist)


def rows(typist: Typist) -> dict[str, Row]:
    """The ledger as it stands."""
    return dict(typist.state.ledger.rows)


def unnamed_stays(
    action: Action, before: dict[str, Row], after: dict[str, Row], reply: str, where: str
) -> None:
    """An old row that changed is put right, taken back, or named in the reply."""
    changed = [name for name, row in before.items() if after[name].entry != row.entry]
    if action.kind in ("scratch", "yes", "sign"):
        return
    for name in changed:
        told = (
            "before as well" in reply
            or re.search(r"\breadings? from \d", reply)
            or after[name].entry.words().split(": ", 1)[-1] in reply
        )
        assert told, f"{before[name].entry.words()} became {after[name].entry.words()} unsaid\n{where}"


class TakenBack:
    """Taking back restores what was before, exactly: all that is told of the exam, word for word."""

    def __init__(self) -> None:
        self.before: list[ExamState | None] = []
        self.now = Typist().state

    def check(self, typist: Typist, line: Line, where: str) -> None:
        """Compare after one line; of several acts in one breath only what was before the first is known."""
        for act in line.acts:
            if act.does == "undo":
                earlier = self.before.pop()
                assert earlier is None or told(earlier) == told(typist.state), where
            else:
                self.before.append(self.now if act is line.acts[0] else None)
        self.now = typist.state


def told(state: ExamState) -> Told:
    """Everything that is told of the exam apart from the list of what was said."""
    data = summary(state)
    data["exam"].pop("question"), data["exam"].pop("questions"), data["exam"].pop("waiting")
    return {part: data[part] for part in ("exam", "naming", "eyes", "findings", "comparisons", "remarks")}


def everything_is_found(typist: Typist) -> None:
    """Every live entry in state, words and data, equal in value."""
    data = summary(typist.state)
    state = typist.state
    for row in state.ledger.live:
        told = next(each for each in data["ledger"] if each["id"] == row.id)
        assert (
            type(row.entry).model_validate({k: v for k, v in told["entry"].items() if k != "words"})
            == row.entry
        )
        assert row.entry.words() == told["entry"]["words"] != ""
    readings = {each.id for eye in state.eyes.values() for taken in eye.passes for each in taken.readings}
    assert readings == {row.id for row in state.ledger.live if row.entry.kind == "reading"}


@pytest.mark.parametrize("seed", range(2))
def test_the_log_holds_what_a_person_would_have_written(seed: int) -> None:
    """A thousand lines each; the sweep says a million."""
    run(seed, 1000)


@pytest.mark.sweep
@pytest.mark.parametrize("seed", range(100, 150))
def test_a_million_lines(seed: int) -> None:
    run(seed, 20_000)
