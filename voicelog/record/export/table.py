"""CSV (RFC 4180): one row an eye and method. What the columns mean is written in docs/record.md.

Numbers are plain ("-1.75", "1.25"). A text that a spreadsheet could take for a formula gets an apostrophe before it,
as OWASP advises ("CSV Injection"); characters that are not seen are written as their numbers.
"""

import csv
import io
from typing import Any, Final

from voicelog.exam.state import EYES, EyeName
from voicelog.optics import Uncertainty
from voicelog.record.chain import utc_text
from voicelog.record.exams import ExamRecord
from voicelog.record.export.findings import Finding
from voicelog.record.export.further import Further, compared, further, remarked
from voicelog.record.inert import inert

COLUMNS: Final = (
    *("exam", "reference", "started_at", "eye", "method", "status"),
    *("sphere_d", "cylinder_d", "axis_deg", "spherical_equivalent_d"),
    *("exact_sphere_d", "exact_cylinder_d", "exact_axis_deg", "residual_d"),
    *("sphere_sd_d", "cylinder_sd_d", "axis_sd_deg"),
    *("technique", "naming", "working_distance_cm", "allowance_d", "mirror"),
    *("readings", "reflex", "problems", "attested_by", "attested_at"),
    *("acuity_unaided", "acuity_unaided_logmar", "acuity_aided", "acuity_aided_logmar"),
    *("acuity_refined", "acuity_refined_logmar", "acuity", "acuity_logmar"),
    *("spectacles_sphere_d", "spectacles_cylinder_d", "spectacles_axis_deg", "spectacles_addition_d"),
    *("addition_d", "vertex_mm", "pupil_mm", "pupils", "pupils_distance_far_mm", "pupils_distance_near_mm"),
    *("pupil_to_nose_far_mm", "pupil_to_nose_near_mm", "drops", "passes", "passes_furthest_d"),
    *("dark_sphere_d", "dark_cylinder_d", "dark_axis_deg", "dark_adjustment_d"),
    *("estimate_lag_d", "nott_lag_d", "both_eyes_acuity", "comparisons", "remarks"),
)
_LONGEST: Final = 4_000  # characters of one cell; spreadsheets hold 32,767
# What spreadsheets take for the start of a formula; the full-width forms count in some locales.
_FORMULA_STARTS: Final = ("=", "+", "-", "@", "|", "%", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def table(exam: str, record: ExamRecord, found: tuple[Finding, ...]) -> str:
    """The rows of one exam under their headings, each line ended by CR LF."""
    file = io.StringIO()
    writer = csv.DictWriter(file, COLUMNS, lineterminator="\r\n", quoting=csv.QUOTE_MINIMAL)
    writer.writeheader()
    rows = [(each.eye, _refraction(each)) for each in found]
    begun = {eye for eye, _ in rows}
    beside = further(record)
    # An eye of which only other things were found has a row without a method; so have both, if nothing is of one eye.
    rows += [(eye, {}) for eye in EYES if eye not in begun and any(each.about == eye for each in beside)]
    if not rows and beside:
        rows = [(eye, {}) for eye in EYES]
    for eye, refraction in rows:
        row = _exam(exam, record, eye) | refraction
        writer.writerow({name: _cell(value) for name, value in row.items()})
    return file.getvalue()


def _exam(exam: str, record: ExamRecord, eye: EyeName) -> dict[str, Any]:
    """What is the same in all rows of an eye."""
    attested = record.attested
    return {
        "exam": exam,
        "reference": record.started.reference,
        "started_at": utc_text(record.started.at),
        "eye": eye,
        "naming": record.started.naming,
        "mirror": "concave" if record.state.concave_mirror else "plane",
        "attested_by": attested and attested.by,
        "attested_at": attested and utc_text(attested.at),
        **_further(record, eye),
    }


def _refraction(finding: Finding) -> dict[str, Any]:
    return {
        "method": finding.method,
        "status": finding.status,
        **_numbers(finding),
        "technique": finding.technique,
        "working_distance_cm": "; ".join(f"{each:g}" for each in finding.distances_cm),
        "allowance_d": "; ".join(f"{each:.3f}" for each in finding.allowances_d),
        "readings": "; ".join(
            f"{each.meridian_deg}:{each.gross_d:+.2f} {each.motion}" for each in finding.readings
        ),
        "reflex": "; ".join(
            reflex if meridian is None else f"{meridian}:{reflex}" for reflex, meridian in finding.reflexes
        ),
        "problems": "; ".join(finding.problems),
    }


# Column to code and part of the finding that fills it; a part None is the value in words.
_OF_EYE: Final = {
    "acuity_unaided": ("acuity-unaided", None),
    "acuity_unaided_logmar": ("acuity-unaided", "logmar"),
    "acuity_aided": ("acuity-aided", None),
    "acuity_aided_logmar": ("acuity-aided", "logmar"),
    "acuity_refined": ("acuity-refined", None),
    "acuity_refined_logmar": ("acuity-refined", "logmar"),
    "acuity": ("acuity", None),
    "acuity_logmar": ("acuity", "logmar"),
    "spectacles_sphere_d": ("previous-spectacles", "sphere"),
    "spectacles_cylinder_d": ("previous-spectacles", "cylinder"),
    "spectacles_axis_deg": ("previous-spectacles", "axis"),
    "spectacles_addition_d": ("previous-spectacles", "addition"),
    "addition_d": ("addition", "addition"),
    "pupil_mm": ("pupil-size", "size"),
    "passes": ("passes", "count"),
    "passes_furthest_d": ("passes", "furthest"),
    "dark_sphere_d": ("near-in-the-dark", "sphere"),
    "dark_cylinder_d": ("near-in-the-dark", "cylinder"),
    "dark_axis_deg": ("near-in-the-dark", "axis"),
    "dark_adjustment_d": ("near-in-the-dark", "adjustment"),
    "estimate_lag_d": ("monocular-estimate", "lag"),
    "nott_lag_d": ("nott", "lag"),
}
_OF_BOTH: Final = {
    "vertex_mm": ("vertex-distance", "distance"),
    "pupils": ("pupils", None),
    "pupils_distance_far_mm": ("pupils-distance-far", "both"),
    "pupils_distance_near_mm": ("pupils-distance-near", "both"),
    "drops": ("drops", None),
}


def _further(record: ExamRecord, eye: EyeName) -> dict[str, Any]:
    """What else was found of an eye, and what belongs to both and so stands in every row."""
    found = further(record)
    mine = [each for each in found if each.about == eye]
    given = [each for each in found if each.code == "drops" and each.about in (eye, "both", None)]
    shared = [each for each in found if each.about in ("both", None) and each.code != "drops"]
    row = {column: _value(mine, *place) for column, place in _OF_EYE.items()}
    row |= {column: _value([*given, *shared], *place) for column, place in _OF_BOTH.items()}
    for at in ("far", "near"):
        row[f"pupil_to_nose_{at}_mm"] = _value(shared, f"pupils-distance-{at}", eye)
    acuities = [each for each in shared if each.code.startswith("acuity")]
    row["both_eyes_acuity"] = "; ".join(f"{each.name}: {each.text}" for each in acuities)
    row["comparisons"] = "; ".join(each.text for each in compared(record) if each.eye in (None, eye))
    row["remarks"] = "; ".join(each.text for each in remarked(record) if each.about in (None, eye))
    return row


def _value(found: list[Further], code: str, part: str | None) -> object:
    """One value as it is, several joined; None when there is none."""
    of_code = [each for each in found if each.code == code]
    values: list[object] = [each.text for each in of_code]
    if part is not None:
        values = [number.value for each in of_code for number in each.quantities if number.part == part]
    if len(values) == 1:
        return values[0]
    return "; ".join(each if isinstance(each, str) else _cell(each) for each in values) or None


def _numbers(finding: Finding) -> dict[str, float | None]:
    if finding.lens is None or finding.exact is None:
        return {}
    lens, exact = finding.lens, finding.exact
    return {
        "sphere_d": lens.sphere_d,
        "cylinder_d": lens.cylinder_d,
        "axis_deg": lens.axis_deg,
        "spherical_equivalent_d": lens.spherical_equivalent_d,
        "exact_sphere_d": exact.sphere_d,
        "exact_cylinder_d": exact.cylinder_d,
        "exact_axis_deg": exact.axis_deg,
        "residual_d": finding.residual_d,
        **_spread(finding.spread),
    }


def _spread(spread: Uncertainty | None) -> dict[str, float | None]:
    if spread is None:
        return {}
    return {
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
