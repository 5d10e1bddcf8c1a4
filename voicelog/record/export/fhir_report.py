"""The DiagnosticReport that groups the observations of an exam in FHIR, and says in words what they are not."""

from collections.abc import Sequence
from html import escape
from typing import Any, Final

from voicelog.record.chain import utc_text
from voicelog.record.exams import ExamRecord
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.fhir_codes import EXAMS, FINDINGS, REFERENCES
from voicelog.record.inert import inert

_TITLE: Final = "Retinoscopy with a trial frame, and what was noted beside it"
_LONGEST: Final = 10_000


def diagnostic_report(
    exam: str, record: ExamRecord, last_said: str, observations: Sequence[str]
) -> dict[str, Any]:
    """The report of an exam; `observations` are the addresses of what it groups.

    Its cautions stand in the conclusion and in the narrative, which is what a person is shown.
    """
    report: dict[str, Any] = {
        "resourceType": "DiagnosticReport",
        "identifier": [{"system": EXAMS, "value": f"{exam}:report"}],
        "text": {"status": "generated", "div": _narrative(exam)},
        "status": "preliminary" if record.attested is None else "final",
        "code": {"coding": [{"system": FINDINGS, "code": "exam", "display": _TITLE}], "text": _TITLE},
        "effectivePeriod": {"start": utc_text(record.started.at), "end": last_said},
        "result": [{"reference": address} for address in observations],
        "conclusion": " ".join(CAUTIONS),
    }
    if record.started.reference.strip():
        report["subject"] = patient(record)
    if record.attested is not None:
        report["issued"] = utc_text(record.attested.at)
        report["performer"] = [{"display": inert(record.attested.by)}]
    return report


def patient(record: ExamRecord) -> dict[str, Any]:
    """The practice's own reference; nothing else is known of anybody."""
    reference = inert(record.started.reference, _LONGEST).strip()
    if not reference:
        return {"display": "without a reference"}
    return {"identifier": {"system": REFERENCES, "value": reference}}


def _narrative(exam: str) -> str:
    paragraphs = "".join(f"<p>{escape(text)}</p>" for text in (f"Exam {exam}. {_TITLE}.", *CAUTIONS))
    return f'<div xmlns="http://www.w3.org/1999/xhtml">{paragraphs}</div>'
