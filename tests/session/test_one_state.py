"""A heard line is worked out once, however many look at what it led to: the exam, the record, screen, ear and page."""

import io
import sys
from pathlib import Path

import pytest
from rich.console import Console

from tests.session.test_session import hearing
from voicelog import optics
from voicelog.exam import pass_state
from voicelog.exam.state import fold
from voicelog.live.feedback import feedback
from voicelog.optics import Look
from voicelog.page.desk import Desk, Sound
from voicelog.page.messages import Messages
from voicelog.record.journal import Journal
from voicelog.screen.terminal import screen
from voicelog.session import Memory, Session

LINES = (
    "right eye",
    "working distance sixty seven",
    "streak thirty five neutral at plus one",
    "streak one twenty five neutral with sphere plus two and a quarter",
    "streak one twenty five neutral with sphere plus two and a half",
    "not plus two and a half but plus two and a quarter",
    "left eye",
    "streak ninety with at plus one",
    "acuity unaided six nine",
    "look at the far letter please",
    "scratch that",
)


class Counting:
    """Stands for the solving of looks and keeps which looks it was asked for."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.looks: list[tuple[Look, ...]] = []
        pass_state._solved.cache_clear()
        real = optics.solve_looks

        def counted(looks: list[Look], **given: object) -> object:
            if looks:
                self.looks.append(tuple(looks))
            return real(looks, **given)  # type: ignore[arg-type]

        for module in list(sys.modules.values()):
            if getattr(module, "solve_looks", None) is real:
                monkeypatch.setattr(module, "solve_looks", counted)

    def taken(self) -> list[tuple[Look, ...]]:
        """What was solved since the last time."""
        found, self.looks = self.looks, []
        return found


@pytest.mark.parametrize("kept", [False, True])
def test_a_heard_line_costs_at_most_one_solution_of_the_eye_concerned(
    kept: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Journal.open(tmp_path) as journal:
        session = Session(store=journal.begin() if kept else Memory())
        console = Console(file=io.StringIO(), width=120)
        session.listen(lambda event, state: console.print(screen(state)))
        session.listen(lambda event, state: feedback(event, state, "full") and None)  # type: ignore[arg-type]
        desk = Desk("exam", session.state, say=lambda phrase: None, sound=lambda: Sound(-40.0))
        session.listen(desk)
        messages = Messages(desk)
        counting = Counting(monkeypatch)
        costs = []
        for line in LINES:
            before = desk.number
            session.take_heard(hearing(line))
            messages.state_text(before)
            _ = messages.shown.json_text
            costs.append(len(counting.taken()))

    assert max(costs) == 1
    assert [cost for line, cost in zip(LINES, costs, strict=True) if line.startswith("streak")] == [1] * 4
    assert costs[LINES.index("acuity unaided six nine")] == 0
    assert costs[LINES.index("left eye")] == 0
    assert costs[LINES.index("scratch that")] == 0  # of the acuity: no reading changes


def test_what_was_carried_along_is_what_the_events_lead_to(tmp_path: Path) -> None:
    with Journal.open(tmp_path) as journal:
        store = journal.begin()
        session = Session(store=store)
        for line in LINES:
            session.take_heard(hearing(line))
        assert store.record is not None
        assert store.record.state == session.state
        assert journal.exam(store.exam).state == session.state
        assert fold(session.state.events) == session.state
