"""CSV (RFC 4180): one row an eye. What the columns mean is written in docs/record.md.

Numbers are plain ("-1.75", "1.25"). A text that a spreadsheet could take for a formula gets an apostrophe before it,
as OWASP advises ("CSV Injection"); characters that are not seen are written as their numbers.
"""

import csv
import io
from typing import Any, Final

from voicelog.record.chain import utc_text
from voicelog.record.exams import ExamRecord
from voicelog.record.export.findings import Finding
from voicelog.record.inert import inert

COLUMNS: Final = (
    *("exam", "reference", "started_at", "eye", "method", "status"),
    *("sphere_d", "cylinder_d", "axis_deg", "spherical_equivalent_d"),
    *("exact_sphere_d", "exact_cylinder_d", "exact_axis_deg", "residual_d"),
    *("sphere_sd_d", "cylinder_sd_d", "axis_sd_deg"),
    *("technique", "naming", "working_distance_cm", "allowance_d", "mirror"),
    *("readings", "reflex", "problems", "attested_by", "attested_at"),
)
_LONGEST: Final = 1_000  # characters of one cell
# What spreadsheets take for the start of a formula; the full-width forms count in some locales.
_FORMULA_STARTS: Final = ("=", "+", "-", "@", "|", "%", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def table(exam: str, record: ExamRecord, found: tuple[Finding, ...]) -> str:
    """The rows of one exam under their headings, each line ended by CR LF."""
    file = io.StringIO()
    writer = csv.DictWriter(file, COLUMNS, lineterminator="\r\n", quoting=csv.QUOTE_MINIMAL)
    writer.writeheader()
    for finding in found:
        writer.writerow({name: _cell(value) for name, value in _row(exam, record, finding).items()})
    return file.getvalue()


def _row(exam: str, record: ExamRecord, finding: Finding) -> dict[str, Any]:
    attested = record.attested
    return {
        "exam": exam,
        "reference": record.started.reference,
        "started_at": utc_text(record.started.at),
        "eye": finding.eye,
        "method": finding.method,
        "status": finding.status,
        **_numbers(finding),
        "technique": finding.technique,
        "naming": record.started.naming,
        "working_distance_cm": "; ".join(f"{each:g}" for each in finding.distances_cm),
        "allowance_d": "; ".join(f"{each:.3f}" for each in finding.allowances_d),
        "mirror": "concave" if record.state.concave_mirror else "plane",
        "readings": "; ".join(
            f"{each.meridian_deg}:{each.gross_d:+.2f} {each.motion}" for each in finding.readings
        ),
        "reflex": "; ".join(
            reflex if meridian is None else f"{meridian}:{reflex}" for reflex, meridian in finding.reflexes
        ),
        "problems": "; ".join(finding.problems),
        "attested_by": attested and attested.by,
        "attested_at": attested and utc_text(attested.at),
    }


def _numbers(finding: Finding) -> dict[str, float | None]:
    if finding.lens is None or finding.exact is None or finding.spread is None:
        return {}
    lens, exact, spread = finding.lens, finding.exact, finding.spread
    return {
        "sphere_d": lens.sphere_d,
        "cylinder_d": lens.cylinder_d,
        "axis_deg": lens.axis_deg,
        "spherical_equivalent_d": lens.spherical_equivalent_d,
        "exact_sphere_d": exact.sphere_d,
        "exact_cylinder_d": exact.cylinder_d,
        "exact_axis_deg": exact.axis_deg,
        "residual_d": finding.residual_d,
        "sphere_sd_d": spread.sphere_sd_d,
        "cylinder_sd_d": spread.cylinder_sd_d,
        "axis_sd_deg": spread.axis_sd_deg,
    }


def _cell(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, int | float):
        return f"{round(value, 4) + 0.0:g}"
    text = inert(str(value), _LONGEST)
    return f"'{text}" if text.lstrip().startswith(_FORMULA_STARTS) else text
