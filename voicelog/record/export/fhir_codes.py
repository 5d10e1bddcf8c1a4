"""Codes, names and units in FHIR, and what is said with them.

Codes of public systems are used only where published eye-care guides show them (SNOMED CT as in HL7's eye-care guides,
UCUM); the rest are in our own code systems, so that a new kind of finding needs nothing here. No LOINC code is used:
those for objective refraction say with or without cycloplegia, and whether drops had worked at a reading is for the
examiner to say.
"""

from typing import Any, Final

from voicelog.exam.entries import Dryness, Quantity
from voicelog.record.export.further import SUBJECTIVE_CODE

EXAMS: Final = "urn:voicelog:exam"
REFERENCES: Final = "urn:voicelog:reference"
FINDINGS: Final = "urn:voicelog:finding"
EYES: Final = "urn:voicelog:eye"
TECHNIQUES: Final = "urn:voicelog:technique"
CONDITIONS: Final = "urn:voicelog:condition"
_SNOMED: Final = "http://snomed.info/sct"
_UCUM: Final = "http://unitsofmeasure.org"
TERMINOLOGY: Final = "http://terminology.hl7.org/CodeSystem"

_CODES: Final = {
    "refraction": ("251794006", "Refraction"),
    "subjective": ("397277005", "Subjective refraction"),
    "sphere": ("251795007", "Power of sphere"),
    "cylinder": ("251797004", "Power of cylinder"),
    "axis": ("251799001", "Axis of cylinder"),
    "addition": ("397282003", "Reading addition power"),
    "acuity": ("251739003", "Distance visual acuity"),
    "unaided": ("420050001", "Uncorrected visual acuity"),
    "corrected": ("397536007", "Corrected visual acuity"),
}
"""SNOMED CT codes by our own short names, as HL7's eye-care guides show them."""

SHOWN: Final = {
    "retinoscopy": ("refraction",),
    SUBJECTIVE_CODE: ("refraction", "subjective"),
    "previous-spectacles": ("refraction",),
    "near-in-the-dark": ("refraction",),
    "addition": ("addition",),
    "acuity": ("acuity",),
    "acuity-unaided": ("acuity", "unaided"),
    "acuity-aided": ("acuity", "corrected"),
    "acuity-refined": ("acuity", "corrected"),
}
_PARTS: Final = {
    "axis": "Axis of cylinder",
    "residual": "Root mean square residual of the readings",
    "allowance": "Allowance taken off for the working distance",
    "addition": "Near addition",
    "logmar": "logMAR",
    "size": "Diameter of the pupil",
    "both": "Distance between the pupils",
    "right": "Right pupil to the middle of the nose",
    "left": "Left pupil to the middle of the nose",
    "count": "Number of passes",
    "spread": "Root mean square distance of the passes from their mean",
    "furthest": "Largest distance between two passes",
    "adjustment": "Adjustment taken off for age",
    "lag": "Lag of accommodation",
    "target": "Distance of the target",
    "neutral": "Distance of neutral",
    "gross": "Summed power of the lenses along the meridian",
    "meridian": "Meridian of power",
}
"""Names of parts that say more than the part's own name."""
UNITS: Final = {
    "[diop]": "dioptre",
    "deg": "degree",
    "cm": "centimetre",
    "mm": "millimetre",
    "%": "percent",
    "min": "minute",
    "a": "year",
    "mo": "month",
    "1": "1",
}


def condition_part(condition: Dryness) -> dict[str, Any]:
    """Dry or wet, as a component."""
    coding = {"system": FINDINGS, "code": "condition", "display": "Condition"}
    display = "Wet: a cycloplegic was noted" if condition == "wet" else "Dry: no cycloplegic was noted"
    return {
        "code": {"coding": [coding], "text": "Condition"},
        "valueCodeableConcept": own_code(CONDITIONS, condition, display),
    }


def capital(text: str) -> str:
    """With a capital at its beginning."""
    return text[:1].upper() + text[1:]


def component(found: Quantity) -> dict[str, Any]:
    """A number with its unit, as a component. Raises ValueError for an axis that is no whole number."""
    display = _PARTS.get(found.part, capital(found.part.replace("-", " ")))
    coding = [{"system": FINDINGS, "code": found.part, "display": display}]
    if found.part in _CODES:
        coding.append(public_code(found.part))
    value = _whole(found.value) if found.part == "axis" else found.value
    quantity = {
        "value": value,
        "unit": UNITS.get(found.unit, found.unit),
        "system": _UCUM,
        "code": found.unit,
    }
    return {"code": {"coding": coding, "text": display}, "valueQuantity": quantity}


def public_code(name: str) -> dict[str, str]:
    """The Coding of a public system, by our own short name."""
    code, display = _CODES[name]
    return {"system": _SNOMED, "code": code, "display": display}


def body_site(name: str) -> dict[str, Any]:
    """An eye or both, as a CodeableConcept."""
    return own_code(EYES, name, "Both eyes" if name == "both" else f"{name.capitalize()} eye")


def _whole(axis_deg: float) -> int:
    if axis_deg != int(axis_deg):
        raise ValueError(f"axis {axis_deg} is no whole number of degrees")
    return int(axis_deg)


def own_code(system: str, code: str, display: str) -> dict[str, Any]:
    """A CodeableConcept of one of our own systems."""
    return {"coding": [{"system": system, "code": code, "display": display}], "text": display}
