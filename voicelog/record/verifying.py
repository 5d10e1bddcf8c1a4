"""Proof that the record is as it was written: every chain, every row of the list, and the clips of this machine.

What an exam comes to is worked out anew only when asked (`deep`): that takes a hundred times as long as the rest.
"""

import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from itertools import groupby
from operator import attrgetter
from typing import Any, Final

from sqlalchemy import Column, ColumnElement, Connection, and_, func, select, text, update

from voicelog.record.chain import Row, checked
from voicelog.record.clips import Clips
from voicelog.record.errors import CannotFollowError, RecordDamagedError
from voicelog.record.exams import fold
from voicelog.record.journal import Journal
from voicelog.record.outlines import outline
from voicelog.record.overviews import overview
from voicelog.record.tables import event as event_table
from voicelog.record.tables import exam as exam_table

_TRIGGERS: Final = {
    "sqlite": (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'",
        {
            *("event_not_changed", "event_not_removed", "event_in_order"),
            *("exam_not_removed", "exam_not_renamed", "exam_not_replaced"),
        },
    ),
    "postgresql": (
        "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled = 'O'",
        {"event_not_changed", "event_in_order", "exam_not_removed", "exam_not_renamed"},
    ),
}
WORKED_OUT: Final = ("unresolved", "right_status", "right_result", "left_status", "left_result")
"""Columns of the list that depend on how this program works an exam out."""
_AT_ONCE: Final = 1000  # rows fetched together
_TOLD_EVERY: Final = 500  # exams between two words of progress


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong. `exam` and `number` say where, as far as that is known."""

    what: str
    exam: str | None = None
    number: object = None

    def __str__(self) -> str:
        place = "" if self.exam is None else f"exam {self.exam}"
        place += "" if self.number is None else f", event {self.number}"
        return f"{place}: {self.what}" if place else self.what


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a check found. `digest` is one hash over the ends of all chains: noted elsewhere, it proves the whole."""

    exams: int
    events: int
    clips: int
    digest: str
    faults: tuple[Fault, ...]
    missing_clips: tuple[Fault, ...]
    """Clips that are not here, or not as they were: no fault of the record itself."""
    outdated: tuple[Fault, ...] = ()
    """Rows of the list that an older program worked out otherwise: no fault of the record itself."""


def verify(
    journal: Journal,
    *,
    clips: bool = True,
    deep: bool = False,
    progress: Callable[[int, int], None] | None = None,
) -> Verdict:
    """Check everything, in one steady view. Raises RecordError when the database cannot be read at all.

    With `deep` every exam is worked out anew and the results in the list compared. `progress` is told now and then how
    many exams of how many are done.
    """
    checker = _Checker(journal.clips if clips else None, deep, progress)
    try:
        with journal.database.reading() as connection:
            checker.check_database(connection)
            checker.check_exams(connection)
    except RecordDamagedError as error:
        checker.faults.append(Fault(str(error)))
    return checker.verdict()


def refresh_list(journal: Journal) -> int:
    """Work out the list's results anew from the events, for exams whose chain fits; how many rows were changed.

    Needed when a newer program works out something else than the one that wrote a row. Raises RecordError.
    """
    with journal.database.reading() as connection:
        lines = {line["id"]: dict(line) for line in connection.execute(select(exam_table)).mappings()}
        stale = [
            line
            for exam, rows in _by_exam(connection)
            if (line := _worked_out(rows)) is not None and line != lines.get(str(exam), line)
        ]
    for line in stale:
        values = {name: line[name] for name in WORKED_OUT}
        here = and_(exam_table.c.id == line["id"], exam_table.c.last_hash == line["last_hash"])
        with journal.database.writing() as connection:
            connection.execute(update(exam_table).where(here).values(values))
    return len(stale)


def _worked_out(rows: Sequence[Row]) -> dict[str, Any] | None:
    found = checked(rows)
    if found.broken is not None:
        return None
    try:
        return asdict(overview(fold(found.events), rows[-1]))
    except (CannotFollowError, ValueError):
        return None


class _Checker:
    def __init__(self, clips: Clips | None, deep: bool, progress: Callable[[int, int], None] | None) -> None:
        self._clips = clips
        self._deep = deep
        self._progress = progress
        self._exams = self._events = self._clip_count = 0
        self._digest = hashlib.sha256()
        self.faults: list[Fault] = []
        self._missing: list[Fault] = []
        self._outdated: list[Fault] = []

    def verdict(self) -> Verdict:
        return Verdict(
            self._exams,
            self._events,
            self._clip_count,
            self._digest.hexdigest(),
            tuple(self.faults),
            tuple(self._missing),
            tuple(self._outdated),
        )

    def check_database(self, connection: Connection) -> None:
        """The triggers, and in SQLite the pages."""
        query, wanted = _TRIGGERS[connection.dialect.name]
        there = set(connection.execute(text(query)).scalars())
        self.faults += [Fault(f"the trigger {name} is not there") for name in sorted(wanted - there)]
        if connection.dialect.name == "sqlite":
            found = connection.exec_driver_sql("PRAGMA integrity_check(1)").scalar_one()
            if found != "ok":
                self.faults.append(Fault(f"the file is damaged: {found}"))

    def check_exams(self, connection: Connection) -> None:
        """Every exam: its events, and its row in the list; both are read side by side."""
        listed = _list(connection)
        line = next(listed, None)
        total = connection.execute(select(func.count()).select_from(exam_table)).scalar_one()
        for exam, rows in _by_exam(connection):
            self._exams += 1
            self._events += len(rows)
            self._digest.update(f"{exam} {len(rows)} {rows[-1].hash}\n".encode("utf-8", "surrogatepass"))
            while line is not None and line["id"] < str(exam):
                self.faults.append(Fault("its events are gone", str(line["id"])))
                line = next(listed, None)
            here = line is not None and line["id"] == exam
            self._check_exam(str(exam), rows, line if here else None)
            line = next(listed, None) if here else line
            if self._progress is not None and self._exams % _TOLD_EVERY == 0:
                self._progress(self._exams, total)
        for gone in (line, *listed) if line is not None else ():
            self.faults.append(Fault("its events are gone", str(gone["id"])))

    def _check_exam(self, exam: str, rows: Sequence[Row], line: Mapping[Any, Any] | None) -> None:
        seen = outline(rows)
        if seen.broken is not None:
            self.faults.append(Fault(seen.broken[1], exam, seen.broken[0]))
            return
        if self._deep or seen.doubtful:
            self._work_out(exam, rows, line)
        else:
            self._compare(exam, line, seen.listed)
        self._check_clips(exam, seen.clips)

    def _work_out(self, exam: str, rows: Sequence[Row], line: Mapping[Any, Any] | None) -> None:
        found = checked(rows)
        if found.broken is not None:
            self.faults.append(Fault(found.broken[1], exam, found.broken[0]))
            return
        try:
            record = fold(found.events)
            worked_out = asdict(overview(record, rows[-1]))
        except (CannotFollowError, ValueError) as error:
            self.faults.append(Fault(f"the events make no exam: {error}", exam))
            return
        self._compare(exam, line, worked_out, is_old=record.is_old)

    def _compare(
        self, exam: str, line: Mapping[Any, Any] | None, wanted: Mapping[str, Any], *, is_old: bool = False
    ) -> None:
        wrong = [name for name, value in wanted.items() if line is None or line.get(name) != value]
        if not wrong:
            return
        # An exam of an old journal comes to what today's rules say; its row in the list is as it was then.
        kept = (
            self._outdated if is_old and line is not None and set(wrong) <= set(WORKED_OUT) else self.faults
        )
        kept.append(Fault(_difference(line, wrong, wanted), exam))

    def _check_clips(self, exam: str, clips: Mapping[str, int]) -> None:
        if self._clips is None:
            return
        for clip, number in clips.items():
            self._clip_count += 1
            state = self._clips.state(exam, clip)
            if state != "kept":
                self._missing.append(Fault(f"the clip {clip[:12]} is {state}", exam, number))


def _list(connection: Connection) -> Iterator[Mapping[Any, Any]]:
    query = select(exam_table).order_by(_in_code_order(exam_table.c.id, connection))
    yield from connection.execution_options(yield_per=_AT_ONCE).execute(query).mappings()


def _by_exam(connection: Connection) -> Iterator[tuple[object, list[Row]]]:
    exam = _in_code_order(event_table.c.exam, connection)
    query = select(event_table).order_by(exam, event_table.c.number)
    found = connection.execution_options(yield_per=_AT_ONCE).execute(query)
    for exam, rows in groupby((Row(*each) for each in found), key=attrgetter("exam")):
        yield exam, list(rows)


def _in_code_order(column: Column[str], connection: Connection) -> ColumnElement[str]:
    """A server may order texts as a language does; the list and the events are read side by side as Python orders."""
    return column if connection.dialect.name == "sqlite" else column.collate("C")


def _difference(line: Mapping[Any, Any] | None, wrong: Sequence[str], worked_out: Mapping[str, Any]) -> str:
    if line is None:
        return "it is missing in the list of exams"
    if set(wrong) <= set(WORKED_OUT):
        return f"the list differs from what the events give in {', '.join(wrong)} (verify --refresh puts it right)"
    if "last_number" in wrong:
        return f"the list says that its last event is {line['last_number']}; {worked_out['last_number']} is"
    return f"the list of exams differs from its events in {', '.join(wrong)}"
