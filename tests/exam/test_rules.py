"""Every row of the table of rules in docs/exchange.md, typed."""

import re
from pathlib import Path
from typing import NamedTuple

import pytest

from tests.exam.typing import Typist
from voicelog.exam.state import ExamState

DOCUMENT = Path(__file__).parents[2] / "docs" / "exchange.md"


class Rule(NamedTuple):
    """One row: lines before, what is said, what is said back, and the results then."""

    before: str
    said: str
    back: str
    then: str


def rules() -> list[Rule]:
    """The rows between the marks, without the heads of the tables."""
    text = DOCUMENT.read_text(encoding="utf-8").split("<!-- rules -->")[1]
    rows = [
        [cell.strip() for cell in line.strip("|\n ").split(" | ")]
        for line in text.splitlines()
        if line[:2] == "| "
    ]
    return [Rule(*row) for row in rows if row[0] != "before"]


def results(state: ExamState) -> str:
    """ "right dry +1.50 -1.00 x 180; left dry no result", or "nothing"."""
    found = [
        f"{name} {condition} {eye.result_of(condition) or 'no result'}"
        for name, eye in state.eyes.items()
        for condition in eye.conditions
    ]
    return "; ".join(found) or "nothing"


@pytest.mark.parametrize("rule", rules(), ids=lambda rule: re.sub(r"\W+", "_", rule.said))
def test_the_log_answers_as_the_table_says(rule: Rule) -> None:
    typist = Typist()
    for line in rule.before.split(" · "):
        typist.type(line)

    assert typist.type(rule.said).reply == rule.back
    assert results(typist.state) == rule.then


def test_the_table_covers_every_situation() -> None:
    titles = re.findall(r"^\*\*(.+?)\.\*\*", DOCUMENT.read_text(encoding="utf-8"), flags=re.MULTILINE)

    assert titles == [
        "Repeated meridian",
        "Further meridian",
        "Correction",
        "Taking back",
        "Wrong eye",
        "Working distance",
        "Mirror, drops, pass",
        "Half a lens",
        "Alone",
        "Both meridians",
        "Lenses in and out",
        "Open question",
        "Not yet neutral",
    ]
    assert len(rules()) >= 40
