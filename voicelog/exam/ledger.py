"""The ledger: every entry with what became of it. Acts change entries by their id; nothing is dropped."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Literal, assert_never

from voicelog.exam.entries import Entry
from voicelog.exam.events import Act, Put, Remove, Replace, event_number

RowState = Literal["live", "corrected", "withdrawn"]


class LedgerError(ValueError):
    """An act does not fit the ledger: a fault of the program or of the record, never of the speaker."""


@dataclass(frozen=True, slots=True)
class Row:
    """One entry: its id, what it is now, and as it was entered.

    `past` are the values before each change, with the event that changed it: what taking back goes back to.
    """

    id: str
    entry: Entry
    original: Entry
    withdrawn: bool = False
    past: tuple[tuple[int, Entry, bool], ...] = ()

    @property
    def number(self) -> int:
        """The number of the event it came with."""
        return event_number(self.id)

    @property
    def state(self) -> RowState:
        """What became of it."""
        return "withdrawn" if self.withdrawn else "corrected" if self.past else "live"

    @property
    def changed_by(self) -> int | None:
        """The number of the event that last changed it; None when nothing did."""
        return self.past[-1][0] if self.past else None

    def changed(self, number: int, entry: Entry | None) -> "Row":
        """With another value; None takes it out."""
        return replace(
            self,
            entry=self.entry if entry is None else entry,
            withdrawn=entry is None,
            past=(*self.past, (number, self.entry, self.withdrawn)),
        )

    def changed_back(self) -> "Row":
        """As before its last change."""
        _, entry, withdrawn = self.past[-1]
        return replace(self, entry=entry, withdrawn=withdrawn, past=self.past[:-1])


@dataclass(frozen=True, slots=True)
class Done:
    """An act with the number of its event."""

    number: int
    act: Act


@dataclass(frozen=True, slots=True)
class Ledger:
    """Rows by id in the order they were said; acts that can be taken back, and those that were."""

    rows: Mapping[str, Row] = field(default_factory=dict)
    done: tuple[Done, ...] = ()
    undone: tuple[Done, ...] = ()

    @property
    def live(self) -> tuple[Row, ...]:
        """The rows that make the exam."""
        return tuple(row for row in self.rows.values() if not row.withdrawn)

    @property
    def last(self) -> Row | None:
        """The last row that counts."""
        return next((row for row in reversed(list(self.rows.values())) if not row.withdrawn), None)

    def after(self, act: Act, number: int) -> "Ledger":
        """The ledger after one act of event `number`. Raises LedgerError when the act does not fit."""
        match act.does:
            case "do":
                return Ledger(self._changed(act, number), (*self.done, Done(number, act)))
            case "undo":
                if not self.done:
                    raise LedgerError("nothing can be taken back")
                rows = self._changed_back(self.done[-1].act, number)
                return Ledger(rows, self.done[:-1], (*self.undone, self.done[-1]))
            case "redo":
                if not self.undone:
                    raise LedgerError("nothing was taken back")
                rows = self._brought_back(self.undone[-1].act, number)
                return Ledger(rows, (*self.done, self.undone[-1]), self.undone[:-1])
            case never:
                assert_never(never)

    def _changed(self, act: Act, number: int) -> dict[str, Row]:
        rows = dict(self.rows)
        for change in act.changes:
            match change:
                case Put(id=name, entry=entry):
                    if name in rows:
                        raise LedgerError(f"there is an entry {name} already")
                    rows[name] = Row(name, entry, entry)
                case Replace(id=name, entry=entry):
                    rows[name] = self._row(name).changed(number, entry)
                case Remove(id=name):
                    rows[name] = self._row(name).changed(number, None)
                case never:
                    assert_never(never)
        return rows

    def _changed_back(self, act: Act, number: int) -> dict[str, Row]:
        rows = dict(self.rows)
        for change in reversed(act.changes):
            row = self._row(change.id)
            # An entry that is taken back stays in sight; a changed one is as it was.
            rows[change.id] = row.changed(number, None) if isinstance(change, Put) else row.changed_back()
        return rows

    def _brought_back(self, act: Act, number: int) -> dict[str, Row]:
        rows = dict(self.rows)
        for change in act.changes:
            row = self._row(change.id)
            if isinstance(change, Put):
                rows[change.id] = row.changed_back()
            else:
                rows[change.id] = row.changed(number, None if isinstance(change, Remove) else change.entry)
        return rows

    def _row(self, name: str) -> Row:
        if name not in self.rows:
            raise LedgerError(f"there is no entry {name}")
        return self.rows[name]


def undoing(done: Done, ledger: Ledger) -> Act:
    """The act that takes the last one back, with its changes spelt out for those who read the journal."""
    changes: list[Put | Replace | Remove] = []
    for change in reversed(done.act.changes):
        row = ledger.rows[change.id]
        if isinstance(change, Put):
            changes.append(Remove(id=change.id))
        else:
            _, entry, withdrawn = row.past[-1]
            changes.append(Remove(id=change.id) if withdrawn else Replace(id=change.id, entry=entry))
    return Act(does="undo", changes=tuple(changes))


def redoing(done: Done) -> Act:
    """The act that brings back what was taken back last."""
    return Act(
        does="redo",
        changes=tuple(
            Replace(id=change.id, entry=change.entry) if isinstance(change, Put) else change
            for change in done.act.changes
        ),
        words=done.act.words,
    )
