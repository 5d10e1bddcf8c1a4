"""What an event costs: a pass is solved once for each change of its readings, whoever asks, and nothing is folded anew."""

import pytest

from voicelog.exam import pass_state, solving
from voicelog.exam.entries import Entry, ReadingEntry
from voicelog.exam.events import Act, Line
from voicelog.exam.pass_state import PassState
from voicelog.exam.standing import Standing
from voicelog.exam.state import ExamState
from voicelog.record.journal import Journal

from .cases import MORNING, dictated

LINES = (
    "working distance 67",
    "right eye",
    "streak 90 with at plus one",
    "streak 90 neutral at plus two",
    "streak 180 neutral at plus one",
    "acuity six nine",
    "correction acuity six twelve",
    "correction streak 180 neutral at plus one and a half",
    "next pass",
    "streak 90 neutral at plus two",
    "streak 180 neutral at plus one",
    "left eye",
    "streak 90 neutral at plus three",
    "scratch that",
    "streak 90 neutral at plus four",
)


def test_a_pass_is_solved_once_for_each_change(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """Session, record, list and the look ahead ask the same passes; what the ledger folds anew is not solved anew."""
    solved: list[int] = []
    solve = solving.solve_pass

    def counted(readings: tuple[ReadingEntry, ...], *more: object) -> object:
        if readings:
            solved.append(len(readings))
        return solve(readings, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(pass_state, "solve_pass", counted)

    store, session = dictated(journal, LINES, at=MORNING)

    changes = [line for line in session.state.events if isinstance(line, Line) and touches_reading(line)]
    # "Scratch that" leads back to a pass that was solved before, and is one more.
    assert len(solved) <= len(changes) + 1
    assert store.record is not None
    assert store.record.state == session.state


def touches_reading(line: Line) -> bool:
    return any(isinstance(entry, ReadingEntry) for entry in line.entries)


def test_a_new_entry_leaves_the_passes_as_they_are(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    store, session = dictated(journal, LINES, at=MORNING)
    assert store.record is not None
    before = store.record.state
    monkeypatch.setattr(ExamState, "with_ledger", _never)

    session.type_line("acuity left eye six nine")
    session.type_line("streak 180 neutral at plus two")

    after = store.record.state
    assert before.eyes["right"] is after.eyes["right"]
    kept: tuple[PassState, ...] = before.eyes["right"].passes
    assert all(one is other for one, other in zip(kept, after.eyes["right"].passes, strict=True))


def _never(*_: Act) -> ExamState:
    raise AssertionError("the ledger was folded anew")


def test_a_late_change_folds_only_the_last_entries(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """However long the exam is; and the session, the record and the journal opened anew have the same state."""
    store, session = dictated(
        journal, (*LINES[:4], *("acuity right eye six nine", "left eye") * 30), at=MORNING
    )
    folded: list[str] = []
    after = Standing.after

    def counted(standing: Standing, name: str, entry: Entry) -> Standing:
        folded.append(name)
        return after(standing, name, entry)

    monkeypatch.setattr(Standing, "after", counted)

    for line in (
        "scratch that",
        "correction acuity six twelve",
        "left",
        "streak 90 at 2",
        "right eye",
        "plus",
    ):
        folded.clear()
        session.type_line(line)
        assert len(folded) < 40, line  # a fold of all would be 64 entries, several times
    assert store.record is not None
    assert store.record.state == session.state == journal.exam(store.exam).state
    assert session.state.standing == session.state.with_ledger(session.state.ledger).standing
