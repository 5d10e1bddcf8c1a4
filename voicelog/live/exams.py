"""Where the sessions of `voicelog exam` come from: a new exam, or one that was broken off; kept, or not."""

from collections.abc import Sequence
from contextlib import nullcontext, suppress
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from voicelog.errors import VoicelogError
from voicelog.exam.entries import ReadingEntry
from voicelog.hearing.engines.protocol import Engine
from voicelog.live.round import Patients, results_in_words
from voicelog.phrases.grammar import Grammar
from voicelog.record import under_way
from voicelog.session import Session
from voicelog.settings import Settings

if TYPE_CHECKING:
    from voicelog.record.beginning import KeptFromFirstEntry
    from voicelog.record.journal import Journal


class NothingToContinueError(VoicelogError):
    """No exam was broken off."""


@dataclass(frozen=True, slots=True)
class BrokenOff:
    """An exam that was under way when its process ended."""

    exam: str
    begun: datetime
    reference: str
    readings: int

    @property
    def words(self) -> str:
        """ "the exam of 14:02, reference 4711, 3 readings"."""
        reference = f", reference {self.reference}" if self.reference else ""
        readings = f"{self.readings} reading{'' if self.readings == 1 else 's'}"
        return f"the exam of {self.begun.astimezone():%H:%M}{reference}, {readings}"


class Exams:
    """Makes sessions; `journal` None: nothing is kept."""

    def __init__(
        self, settings: Settings, engine: Engine, grammar: Grammar, journal: "Journal | None"
    ) -> None:
        self._settings, self._engine, self._grammar, self._journal = settings, engine, grammar, journal

    def new(self, reference: str = "", known: Sequence[str] = ()) -> Session:
        """A new exam. It is in the record from its first entry on. Raises NotKeptError.

        `known` are lines of what is known before, such as "age 3 years": entered, but no reason to keep the exam.
        """
        store = self._new_store()
        session = Session(
            self._settings,
            engine=self._engine,
            grammar=self._grammar,
            store=store,
            reference=reference,
        )
        with nullcontext() if store is None else store.known_before():
            for line in known:
                session.type_line(line)
        return session

    @property
    def broken_off(self) -> BrokenOff | None:
        """The exam that was broken off, if there is one that can go on."""
        name = under_way.broken_off()
        if self._journal is None or name is None:
            return None
        try:
            record = self._journal.exam(name)
        except VoicelogError:  # it can be looked at with `voicelog record verify`, and stops nobody
            return None
        if record.attested is not None or record.is_old or record.state.ended:
            return None
        readings = sum(isinstance(row.entry, ReadingEntry) for row in record.state.ledger.live)
        return BrokenOff(name, record.started.at, record.state.reference, readings)

    def continued(self) -> Session:
        """The exam that was broken off goes on. Raises NothingToContinueError, RecordError."""
        found = self.broken_off
        if found is None or self._journal is None:
            raise NothingToContinueError("no exam was broken off: voicelog exam begins a new one")
        store = self._journal.reopen(found.exam)
        if store.record is None:
            raise NothingToContinueError(f"exam {found.exam} has no event")
        _note_under_way(found.exam)
        return Session(
            self._settings,
            engine=self._engine,
            grammar=self._grammar,
            store=store,
            resumed=store.record.state,
        )

    def over(self, session: Session) -> str:
        """An exam has come to its end, and was not broken off; where it is kept, in words."""
        reference = f", reference {session.state.reference}" if session.state.reference else ""
        if self._journal is None:
            return f"not kept: the exam{reference}: {results_in_words(session)}"
        under_way.end()
        if session.is_empty:
            return f"not kept: nothing was entered{reference}"
        where = self._journal.database.where
        return f"kept: exam {session.name}{reference}: {results_in_words(session)} ({where})"

    @property
    def patients(self) -> Patients:
        """One after the other."""
        return Patients(self.new, self.over)

    def _new_store(self) -> "KeptFromFirstEntry | None":
        if self._journal is None:
            return None
        from voicelog.record.beginning import KeptFromFirstEntry  # late: it brings the database along

        return KeptFromFirstEntry(self._journal.begin(), _note_under_way)


def _note_under_way(exam: str) -> None:
    """The exam is kept in any case; without the note a crash would not be offered to be mended."""
    with suppress(OSError):
        under_way.begin(exam)
