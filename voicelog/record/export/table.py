"""CSV (RFC 4180): one row an eye, method and condition. What the columns mean is written in docs/record.md.

Every reading stands in `readings` and every finding in `findings`, whatever kinds there are; the columns before and
between are the numbers that tables are sorted and counted by.

Numbers are plain ("-1.75", "1.25"). A text that a spreadsheet could take for a formula gets an apostrophe before it,
as OWASP advises ("CSV Injection"); characters that are not seen are written as their numbers.
"""

import csv
import io
from collections.abc import Sequence
from typing import Any, Final

from voicelog.exam.entries import SubjectiveEntry
from voicelog.exam.pass_state import TakenReading
from voicelog.exam.state import EYES, EyeName
from voicelog.optics import SpheroCylinder, Uncertainty
from voicelog.record.chain import utc_text
from voicelog.record.exams import ExamRecord
from voicelog.record.export.cautions import CAUTIONS, SUBJECTIVE
from voicelog.record.export.further import Further, compared, further, remarked
from voicelog.record.export.kept import Kept
from voicelog.record.export.refractions import Refraction, refractions
from voicelog.record.inert import inert

COLUMNS: Final = (
    *("exam", "reference", "started_at", "eye", "method", "condition", "status"),
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
    *("estimate_lag_d", "nott_lag_d", "both_eyes_acuity", "comparisons", "remarks", "findings"),
    "cautions",
)
_LONGEST: Final = 30_000  # characters of one cell; spreadsheets hold 32,767
# What spreadsheets take for the start of a formula; the full-width forms count in some locales.
_FORMULA_STARTS: Final = ("=", "+", "-", "@", "|", "%", "\t", "\r", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def write(kept: Kept) -> bytes:
    """The table as a file."""
    return table(kept.exam, kept.record).encode()


def table(exam: str, record: ExamRecord) -> str:
    """The rows of one exam under their headings, each line ended by CR LF."""
    file = io.StringIO()
    writer = csv.DictWriter(file, COLUMNS, lineterminator="\r\n", quoting=csv.QUOTE_MINIMAL)
    writer.writeheader()
    rows = [(each.eye, _refraction(each)) for each in refractions(record)]
    rows += [(eye, _subjective(found)) for eye, found in _subjectives(record)]
    begun = {eye for eye, _ in rows}
    beside = further(record)
    # An eye of which only other things were found has a row without a method; so have both, if nothing is of one eye.
    rows += [(eye, {}) for eye in EYES if eye not in begun and any(each.about == eye for each in beside)]
    if not rows and beside:
        rows = [(eye, {}) for eye in EYES]
    for eye, refraction in rows:
        row = _exam(exam, record, eye, beside) | {"cautions": _cautions(refraction)} | refraction
        writer.writerow({name: cell(value) for name, value in row.items()})
    return file.getvalue()


def _cautions(refraction: dict[str, Any]) -> str:
    """A subjective result has a caution of its own in place of that of an objective finding."""
    first = SUBJECTIVE if refraction.get("method") == "subjective" else CAUTIONS[0]
    return " ".join((first, *CAUTIONS[1:]))


def _exam(exam: str, record: ExamRecord, eye: EyeName, beside: Sequence[Further]) -> dict[str, Any]:
    """What is the same in all rows of an eye."""
    attested = record.attested
    return {
        "exam": exam,
        "reference": record.started.reference,
        "started_at": utc_text(record.started.at),
        "eye": eye,
        "naming": record.started.naming,
        "attested_by": attested and attested.by,
        "attested_at": attested and utc_text(attested.at),
        **_further(record, eye, beside),
    }


def _refraction(found: Refraction) -> dict[str, Any]:
    return {
        "method": "retinoscopy",
        "condition": found.condition,
        "status": found.status,
        **_lens(found.lens),
        **_exact(found),
        **_spread(found.spread),
        "technique": found.technique,
        "working_distance_cm": "; ".join(f"{each:g}" for each in found.distances_cm),
        "allowance_d": "; ".join(f"{each:.3f}" for each in found.allowances_d),
        "mirror": "; ".join(found.mirrors),
        "readings": "; ".join(map(_reading, found.readings)),
        "problems": "; ".join(found.problems),
        "passes": found.mean and found.mean.count,
        "passes_furthest_d": found.mean and found.mean.furthest_d,
    }


def _reading(taken: TakenReading) -> str:
    """ "180:+2.00 neutral, sphere +2.00, 67 cm, plane mirror, pass 1"."""
    entry = taken.entry
    look = " ".join((*entry.manner, entry.motion, *(("about",) if entry.approximate else ())))
    return (
        f"{entry.meridian_deg}:{entry.gross_d:+.2f} {look}, {entry.lenses.words()}, {entry.allowance.words()}, "
        f"{entry.mirror} mirror, pass {entry.pass_number}"
    )


def _subjectives(record: ExamRecord) -> list[tuple[EyeName, SubjectiveEntry]]:
    found = ((eye, record.state.findings.last(SubjectiveEntry, eye)) for eye in EYES)
    return [(eye, each) for eye, each in found if each is not None]


def _subjective(found: SubjectiveEntry) -> dict[str, Any]:
    """As it was said: it has no readings, and its lens is the exact one."""
    return {"method": "subjective", "status": "solved", **_lens(found.lens)}


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
    "reflex": ("reflex", None),
    "spectacles_sphere_d": ("previous-spectacles", "sphere"),
    "spectacles_cylinder_d": ("previous-spectacles", "cylinder"),
    "spectacles_axis_deg": ("previous-spectacles", "axis"),
    "spectacles_addition_d": ("previous-spectacles", "addition"),
    "dark_sphere_d": ("near-in-the-dark", "sphere"),
    "dark_cylinder_d": ("near-in-the-dark", "cylinder"),
    "dark_axis_deg": ("near-in-the-dark", "axis"),
    "dark_adjustment_d": ("near-in-the-dark", "adjustment"),
    "estimate_lag_d": ("monocular-estimate", "lag"),
    "nott_lag_d": ("nott", "lag"),
}
# The same for what may have been said of both eyes at once.
_OF_EYE_OR_BOTH: Final = {
    "addition_d": ("addition", "addition"),
    "pupil_mm": ("pupil-size", "size"),
    "drops": ("drops", None),
    "vertex_mm": ("vertex-distance", "distance"),
    "pupils": ("pupils", None),
    "pupils_distance_far_mm": ("pupils-distance-far", "both"),
    "pupils_distance_near_mm": ("pupils-distance-near", "both"),
}


def _further(record: ExamRecord, eye: EyeName, found: Sequence[Further]) -> dict[str, Any]:
    """What else was found of an eye, and what belongs to both and so stands in every row."""
    mine = [each for each in found if each.about == eye]
    shared = [each for each in found if each.about in ("both", None)]
    row = {column: _value(mine, *place) for column, place in _OF_EYE.items()}
    # In the order it was said: what was said last of this eye or of both counts.
    both = sorted([*shared, *mine], key=lambda each: (each.at is None, each.at))
    row |= {column: _value(both, *place) for column, place in _OF_EYE_OR_BOTH.items()}
    for at in ("far", "near"):
        row[f"pupil_to_nose_{at}_mm"] = _value(shared, f"pupils-distance-{at}", eye)
    acuities = [each for each in shared if each.code.startswith("acuity")]
    row["both_eyes_acuity"] = "; ".join(f"{each.name}: {each.text}" for each in acuities)
    row["comparisons"] = "; ".join(each.text for each in compared(record) if each.eye in (None, eye))
    row["remarks"] = "; ".join(each.text for each in remarked(record) if each.about in (None, eye))
    row["findings"] = "; ".join(map(_whole, (*mine, *shared)))
    return row


def _whole(found: Further) -> str:
    """ "near addition, both eyes: +2.00 (addition 2 [diop])"."""
    whose = {None: "", "both": ", both eyes"}.get(found.about, f", {found.about} eye")
    numbers = ", ".join(f"{each.part} {cell(each.value)} {each.unit}" for each in found.quantities)
    return f"{found.name}{whose}: {found.text}" + (f" ({numbers})" if numbers else "")


def _value(found: Sequence[Further], code: str, part: str | None) -> object:
    """The last value as it is; several joined where each counts; None when there is none."""
    of_code = [each for each in found if each.code == code]
    if of_code and not of_code[-1].each:
        of_code = of_code[-1:]
    values: list[object] = [each.text for each in of_code]
    if part is not None:
        values = [number.value for each in of_code for number in each.quantities if number.part == part]
    if len(values) == 1:
        return values[0]
    return "; ".join(each if isinstance(each, str) else cell(each) for each in values) or None


def _lens(lens: SpheroCylinder | None) -> dict[str, float | None]:
    if lens is None:
        return {}
    return {
        "sphere_d": lens.sphere_d,
        "cylinder_d": lens.cylinder_d,
        "axis_deg": lens.axis_deg,
        "spherical_equivalent_d": lens.spherical_equivalent_d,
    }


def _exact(found: Refraction) -> dict[str, float | None]:
    if found.exact is None:
        return {}
    return {
        "exact_sphere_d": found.exact.sphere_d,
        "exact_cylinder_d": found.exact.cylinder_d,
        "exact_axis_deg": found.exact.axis_deg,
        "residual_d": found.residual_d,
    }


def _spread(spread: Uncertainty | None) -> dict[str, float | None]:
    if spread is None:
        return {}
    return {
        "sphere_sd_d": spread.sphere_sd_d,
        "cylinder_sd_d": spread.cylinder_sd_d,
        "axis_sd_deg": spread.axis_sd_deg,
    }


def cell(value: object) -> str:
    """A value as it stands in a table: plain numbers, and texts that no spreadsheet takes for a formula."""
    if value is None:
        return ""
    if isinstance(value, int | float):
        return f"{round(value, 4) + 0.0:g}"
    text = inert(str(value), _LONGEST)
    return f"'{text}" if text.lstrip().startswith(_FORMULA_STARTS) else text
