"""The table of export formats, which the command line and the page offer. A further one is a module and a line here."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property

from voicelog.record.chain import Row
from voicelog.record.exams import ExamRecord
from voicelog.record.export import exam_file, fhir, report, table
from voicelog.record.export.findings import Finding, findings
from voicelog.record.journal import Journal


@dataclass(frozen=True)
class Kept:
    """What an export is made from: an exam's name, its rows in the journal, and what they come to."""

    exam: str
    journal: Journal

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """As they lie in the journal."""
        return self.journal.rows(self.exam)

    @cached_property
    def record(self) -> ExamRecord:
        """The exam as its events make it."""
        return self.journal.exam(self.exam)

    @cached_property
    def found(self) -> tuple[Finding, ...]:
        """One for each eye and method."""
        return findings(self.record)


@dataclass(frozen=True, slots=True)
class Format:
    """One way out of the record. `write` gives the bytes of a file."""

    name: str
    title: str
    ending: str
    media_type: str
    write: Callable[[Kept], bytes]
    is_text: bool = True


def _report(kept: Kept) -> bytes:
    return report.report(kept.exam, kept.record, kept.found, kept.rows[-1].hash)


def _fhir(kept: Kept) -> bytes:
    return (json.dumps(fhir.bundle(kept.exam, kept.record, kept.found), indent=2) + "\n").encode()


def _csv(kept: Kept) -> bytes:
    return table.table(kept.exam, kept.record, kept.found).encode()


def _json(kept: Kept) -> bytes:
    return exam_file.written(kept.rows).encode()


FORMATS: Mapping[str, Format] = {
    each.name: each
    for each in (
        Format("report", "Report (PDF)", "pdf", "application/pdf", _report, is_text=False),
        Format("fhir", "FHIR R4", "fhir.json", "application/fhir+json", _fhir),
        Format("csv", "Table (CSV)", "csv", "text/csv; charset=utf-8", _csv),
        Format("json", "Whole exam (JSON)", "json", "application/json", _json),
    )
}
"""By name, in the order in which they are offered."""


def exported(journal: Journal, exam: str, form: Format) -> bytes:
    """An exam in one of the formats, as the bytes of a file. Raises RecordError."""
    return form.write(Kept(exam, journal))
