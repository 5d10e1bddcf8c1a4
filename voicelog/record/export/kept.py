"""What every export is made from."""

from dataclasses import dataclass
from functools import cached_property

from voicelog.record.chain import Row, events_of
from voicelog.record.exams import ExamRecord, fold
from voicelog.record.journal import Journal


@dataclass(frozen=True)
class Kept:
    """An exam's name, its rows in the journal, and what they come to."""

    exam: str
    journal: Journal

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """As they lie in the journal."""
        return self.journal.rows(self.exam)

    @cached_property
    def record(self) -> ExamRecord:
        """The exam as its events make it."""
        return fold(events_of(self.rows))
