"""The table of export formats, which the command line and the page offer. A further one is a module and a line here."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from voicelog.record.export import exam_file, fhir, note, report, table
from voicelog.record.export.kept import Kept
from voicelog.record.journal import Journal


@dataclass(frozen=True, slots=True)
class Format:
    """One way out of the record. `write` gives the bytes of a file."""

    name: str
    title: str
    ending: str
    media_type: str
    write: Callable[[Kept], bytes]
    is_text: bool = True


FORMATS: Mapping[str, Format] = {
    each.name: each
    for each in (
        Format("report", "Report (PDF)", "pdf", "application/pdf", report.write, is_text=False),
        Format("note", "Referral note (text)", "note.txt", "text/plain; charset=utf-8", note.write),
        Format("fhir", "FHIR R4", "fhir.json", "application/fhir+json", fhir.write),
        Format("csv", "Table (CSV)", "csv", "text/csv; charset=utf-8", table.write),
        Format("json", "Whole exam (JSON)", "json", "application/json", exam_file.write),
    )
}
"""By name, in the order in which they are offered."""


def exported(journal: Journal, exam: str, form: Format) -> bytes:
    """An exam in one of the formats, as the bytes of a file. Raises RecordError."""
    return form.write(Kept(exam, journal))
