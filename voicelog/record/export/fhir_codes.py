"""Codes, names and units in FHIR, and what is said with them.

Codes of public systems are used only where published eye-care guides show them (SNOMED CT as in HL7's eye-care guides,
eyes by the value set EyecareTargetSiteCodes, UCUM); the rest are in our own code systems, so that a new kind of finding
needs nothing here. No LOINC code is used: those for objective refraction say with or without cycloplegia, and whether
drops had worked at a reading is for the examiner to say.
"""

from typing import Any, Final

from voicelog.exam.entries import Dryness, Quantity
from voicelog.record.export.further import SUBJECTIVE_CODE

EXAMS: Final = "urn:voicelog:exam"
REFERENCES: Final = "urn:voicelog:reference"
FINDINGS: Final = "urn:voicelog:finding"
EYES: Final = "urn:voicelog:eye"
TECHNIQUES: Final = "urn:voicelog:technique"
METHODS: Final = "urn:voicelog:method"
PURPOSES: Final = "urn:voicelog:purpose"
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

_SITES: Final = {
    "right": ("362502000", "Entire right eye"),
    "left": ("362503005", "Entire left eye"),
    "both": ("362508001", "Both eyes, entire"),
}
"""SNOMED CT codes of HL7's value set EyecareTargetSiteCodes (Specialty Eyecare CDA Implementation Guide 0.1.0)."""

SHOWN: Final = {
    "retinoscopy": ("refraction",),
    SUBJECTIVE_CODE: ("subjective",),
    "addition": ("addition",),
    "acuity": ("acuity",),
    "acuity-unaided": ("acuity", "unaided"),
    "acuity-aided": ("acuity", "corrected"),
    "acuity-refined": ("acuity", "corrected"),
}
METHOD_OF: Final = {
    "retinoscopy": ("streak-retinoscopy", "Streak retinoscopy"),
    "reading": ("streak-retinoscopy", "Streak retinoscopy"),
    "near-in-the-dark": ("near-retinoscopy", "Near retinoscopy in the dark"),
    "near-in-the-dark-reading": ("near-retinoscopy", "Near retinoscopy in the dark"),
    "autorefraction": ("automated", "Automated refraction"),
    SUBJECTIVE_CODE: ("subjective", "Subjective refraction"),
}
"""How a refraction was found. Of the published RefractionMethodCodes only the subjective one is used: retinoscopy is
not in it (three of its codes fail the check digit and have no name), and its others name instruments."""

PURPOSE_OF: Final = {
    "retinoscopy": "objective-finding",
    "reading": "objective-finding",
    "near-in-the-dark": "objective-finding",
    "near-in-the-dark-reading": "objective-finding",
    "autorefraction": "objective-finding",
    SUBJECTIVE_CODE: "refined-result",
    "previous-spectacles": "spectacles-worn",
}
"""What the lens powers of an observation are: nothing but this code need be read to keep them apart."""

_PURPOSES: Final = {
    "objective-finding": "Objective finding: a starting point for refinement, not a prescription",
    "refined-result": "Subjective result, as it was noted",
    "spectacles-worn": "What the spectacles worn measure",
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
    "[p'diop]": "prism dioptre",
    "{cycles}/deg": "cycles per degree",
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
    display = "Wet: a cycloplegic was noted" if condition == "wet" else "Dry: no cycloplegic was noted"
    return _own_part("condition", "Condition", own_code(CONDITIONS, condition, display))


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
    """An eye or both, as a CodeableConcept: our own code, and the published one."""
    site = own_code(EYES, name, "Both eyes" if name == "both" else f"{name.capitalize()} eye")
    code, display = _SITES[name]
    site["coding"].append({"system": _SNOMED, "code": code, "display": display})
    return site


def method(code: str) -> dict[str, Any] | None:
    """How the observation of this code was made; None where nothing is known of it."""
    if code not in METHOD_OF:
        return None
    found = own_code(METHODS, *METHOD_OF[code])
    if code == SUBJECTIVE_CODE:
        found["coding"].append(public_code("subjective"))
    return found


def is_objective(code: str) -> bool:
    """Whether an observation of this code is an objective finding: it stays preliminary, whoever attested the exam."""
    return PURPOSE_OF.get(code) == "objective-finding"


def purpose_part(code: str) -> list[dict[str, Any]]:
    """What the powers are, as a component; none for what has none."""
    if code not in PURPOSE_OF:
        return []
    purpose = PURPOSE_OF[code]
    return [_own_part("purpose", "Purpose", own_code(PURPOSES, purpose, _PURPOSES[purpose]))]


def technique_part(technique: str) -> dict[str, Any]:
    """Which lenses were used, as a component."""
    return _own_part("technique", "Technique", own_code(TECHNIQUES, technique.replace(" ", "-"), technique))


def _own_part(code: str, display: str, value: dict[str, Any]) -> dict[str, Any]:
    coding = [{"system": FINDINGS, "code": code, "display": display}]
    return {"code": {"coding": coding, "text": display}, "valueCodeableConcept": value}


def _whole(axis_deg: float) -> int:
    if axis_deg != int(axis_deg):
        raise ValueError(f"axis {axis_deg} is no whole number of degrees")
    return int(axis_deg)


def own_code(system: str, code: str, display: str) -> dict[str, Any]:
    """A CodeableConcept of one of our own systems."""
    return {"coding": [{"system": system, "code": code, "display": display}], "text": display}
