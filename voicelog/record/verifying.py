"""Proof that the record is as it was written: every chain, every row of the list, and the clips of this machine.

What an exam comes to is worked out anew only when asked (`deep`): that takes a hundred times as long as the rest.
"""

import hashlib
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import Any, Final

from sqlalchemy import Connection, and_, func, select, update

from voicelog.errors import reason_of
from voicelog.record import guards, log, log_check
from voicelog.record.chain import Row, checked
from voicelog.record.clips import Clips
from voicelog.record.errors import CannotFollowError, RecordDamagedError
from voicelog.record.exams import fold
from voicelog.record.faults import Fault
from voicelog.record.head_file import Kept
from voicelog.record.journal import Journal
from voicelog.record.log_check import Grown
from voicelog.record.merkle import EMPTY_ROOT
from voicelog.record.outlines import outline
from voicelog.record.overviews import WORKED_OUT, overview
from voicelog.record.scanning import Kept as KeptRow
from voicelog.record.scanning import exams_of, lines_of, rows_of
from voicelog.record.tables import exam as exam_table
from voicelog.record.tables import salt as salt_table

_CACHE_KIB: Final = 16384
_TOLD_EVERY: Final = 500  # exams between two words of progress


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a check found. `digest` is one hash over the ends of all chains, `size` and `root` are those of the log."""

    exams: int
    events: int
    clips: int
    digest: str
    faults: tuple[Fault, ...]
    missing_clips: tuple[Fault, ...]
    """Clips that are not here, or not as they were: no fault of the record itself."""
    outdated: tuple[Fault, ...] = ()
    """Rows of the list that an older program worked out otherwise: no fault of the record itself."""
    size: int = 0
    root: bytes = EMPTY_ROOT
    noted: tuple[str, ...] = ()
    """What else is worth a word, and no fault."""
    roots: Mapping[int, bytes] = field(default_factory=dict)
    """What the root of the log was at the sizes that were asked for."""


def verify(
    journal: Journal,
    *,
    clips: bool = True,
    deep: bool = False,
    sizes: Collection[int] = (),
    progress: Callable[[int, int], None] | None = None,
) -> Verdict:
    """Check everything, in one steady view. Raises RecordError when the database cannot be read at all.

    With `deep` every exam is worked out anew and the results in the list compared. The log's root at `sizes` is told in
    the verdict. `progress` is told now and then how many exams of how many are done.
    """
    checker = _Checker(journal.clips if clips else None, deep, progress)
    # Read before the log is: a head that is added meanwhile is none that the log does not have.
    outside = _outside(journal, checker)
    try:
        with journal.database.reading() as connection:
            checker.check_database(connection)
            checker.check_exams(connection)
            checker.check_log(connection, outside, sizes)
    except RecordDamagedError as error:
        checker.faults.append(Fault(str(error)))
    return checker.verdict()


def _outside(journal: Journal, checker: "_Checker") -> list[tuple[str, Kept]]:
    """The heads here and in the second folder, and where they lie; a folder that is not there is only noted."""
    heads = journal.heads
    found = []
    for path, kept in ((heads.path, heads.kept), (heads.second, heads.kept_elsewhere)):
        try:
            found.append((str(path), kept()))
        except OSError as error:
            checker.noted.append(f"{path}: its heads cannot be read: {reason_of(error)}")
    if heads.trouble is not None:
        checker.noted.append(heads.trouble)
    return found


def refresh_list(journal: Journal) -> int:
    """Work out the list's results anew from the events, for exams whose chain fits; how many rows were changed.

    Needed when a newer program works out something else than the one that wrote a row. Raises RecordError.
    """
    with journal.database.reading() as connection:
        lines = {line["id"]: dict(line) for line in connection.execute(select(exam_table)).mappings()}
        stale = [
            line
            for exam, kept in exams_of(connection)
            if (line := _worked_out(rows_of(kept))) is not None and line != lines.get(str(exam), line)
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
        self._log = Grown()
        self._salts: dict[str, bytes] = {}
        self.noted: list[str] = []
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
            self._log.size,
            self._log.root,
            tuple(self.noted),
            self._log.roots,
        )

    def check_database(self, connection: Connection) -> None:
        """The triggers, and in SQLite the pages."""
        self.faults += [Fault(what) for what in guards.faults(connection)]
        if connection.dialect.name == "sqlite":
            # Rows are compared with their indexes, which lie far apart: twice the time without room for both.
            before = connection.exec_driver_sql("PRAGMA cache_size").scalar_one()
            connection.exec_driver_sql(f"PRAGMA cache_size = -{_CACHE_KIB}")
            found = connection.exec_driver_sql("PRAGMA integrity_check(1)").scalar_one()
            connection.exec_driver_sql(f"PRAGMA cache_size = {before}")
            if found != "ok":
                self.faults.append(Fault(f"the file is damaged: {found}"))

    def check_exams(self, connection: Connection) -> None:
        """Every exam: its events with their leaves in the log, and its row in the list; they are read side by side."""
        self._salts = dict(connection.execute(select(salt_table.c.exam, salt_table.c.salt)).all())
        listed = lines_of(connection)
        line = next(listed, None)
        total = connection.execute(select(func.count()).select_from(exam_table)).scalar_one()
        for exam, kept in exams_of(connection):
            self._exams += 1
            self._events += len(kept)
            self._digest.update(f"{exam} {len(kept)} {kept[-1][5]}\n".encode("utf-8", "surrogatepass"))
            while line is not None and line["id"] < str(exam):
                self.faults.append(Fault("its events are gone", str(line["id"])))
                line = next(listed, None)
            here = line is not None and line["id"] == exam
            self._check_exam(str(exam), kept, line if here else None)
            line = next(listed, None) if here else line
            if self._progress is not None and self._exams % _TOLD_EVERY == 0:
                self._progress(self._exams, total)
        for gone in (line, *listed) if line is not None else ():
            self.faults.append(Fault("its events are gone", str(gone["id"])))

    def check_log(
        self, connection: Connection, outside: Sequence[tuple[str, Kept]], sizes: Collection[int]
    ) -> None:
        """The log itself, and the heads that were kept outside."""
        wanted = {head.size for _, kept in outside for head in kept.heads}.union(sizes)
        self._log = log_check.grown(connection, wanted)
        known = {fault.exam for fault in self.faults}
        self.faults += self._log.faults
        self.faults += [fault for fault in log_check.without_event(connection) if fault.exam not in known]
        self.faults += log_check.erasures(connection)
        self.noted += log_check.said_erased(connection)
        for where, kept in outside:
            if kept.damaged:
                self.faults.append(Fault(f"{where}: {kept.damaged} lines are no heads any more"))
            self.faults += log_check.against_heads(self._log, kept.heads, where)

    def _check_exam(self, exam: str, kept: Sequence[KeptRow], line: Mapping[Any, Any] | None) -> None:
        seen = outline(kept)
        if seen.broken is not None:
            self.faults.append(Fault(seen.broken[1], exam, seen.broken[0]))
            return
        as_logged = self._check_leaves(exam, kept, line)
        if self._deep or seen.doubtful or not as_logged:
            self._work_out(exam, rows_of(kept), line)
        else:
            self._compare(exam, line, seen.listed)
        self._check_clips(exam, seen.clips)

    def _check_leaves(self, exam: str, kept: Sequence[KeptRow], line: Mapping[Any, Any] | None) -> bool:
        """Whether the list says of the exam's results what it said when its last event was kept."""
        salt, hashed = self._salts.get(exam), log.hashed
        for _, number, _, _, _, hash_, leaf, said in kept:
            if leaf is None or salt is None:
                self.faults.append(Fault("it is not in the log", exam, number))
                return True
            if hashed(salt, hash_, said) != leaf:
                self.faults.append(
                    Fault("it is not what the log says was kept: it was written anew", exam, number)
                )
                return True
        said = kept[-1][7]
        return salt is None or said is None or line is None or log.listed(salt, line) == said

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


def _difference(line: Mapping[Any, Any] | None, wrong: Sequence[str], worked_out: Mapping[str, Any]) -> str:
    if line is None:
        return "it is missing in the list of exams"
    if set(wrong) <= set(WORKED_OUT):
        return f"the list differs from what the events give in {', '.join(wrong)} (verify --refresh puts it right)"
    if "last_number" in wrong:
        return f"the list says that its last event is {line['last_number']}; {worked_out['last_number']} is"
    return f"the list of exams differs from its events in {', '.join(wrong)}"
