"""HL7 FHIR R4: a Bundle with one Observation a finding.

An objective finding is an Observation, never a VisionPrescription, which is an authorisation to make lenses; a draft of
one is added only for refined results that somebody attested. Codes of public systems are used only where published
eye-care guides show them (SNOMED CT as in HL7's eye-care guides, UCUM); the rest are in code systems of our own.
No LOINC code fits so far: those for objective refraction say with or without cycloplegia, which an exam does not.
"""

import uuid
from collections.abc import Iterable, Sequence
from typing import Any, Final

from voicelog.exam.events import Said
from voicelog.optics import SpheroCylinder
from voicelog.record.chain import utc_text
from voicelog.record.exams import ExamRecord
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.findings import Finding
from voicelog.record.inert import inert

EXAMS: Final = "urn:voicelog:exam"
REFERENCES: Final = "urn:voicelog:reference"
FINDINGS: Final = "urn:voicelog:finding"
EYES: Final = "urn:voicelog:eye"
TECHNIQUES: Final = "urn:voicelog:technique"
_SNOMED: Final = "http://snomed.info/sct"
_UCUM: Final = "http://unitsofmeasure.org"
_TERMINOLOGY: Final = "http://terminology.hl7.org/CodeSystem"
_LONGEST: Final = 10_000  # characters of a note; FHIR allows 1,048,576

_METHODS: Final = {
    "retinoscopy": ("retinoscopy", "Objective refraction by streak retinoscopy"),
    "refined": ("refined-refraction", "Refraction refined with the patient's answers"),
}
_PARTS: Final = {
    "sphere": ("Sphere", "251795007", "Power of sphere"),
    "cylinder": ("Cylinder", "251797004", "Power of cylinder"),
    "axis": ("Axis of cylinder", "251799001", "Axis of cylinder"),
    "spherical-equivalent": ("Spherical equivalent", None, None),
    "residual": ("Root mean square residual of the readings", None, None),
    "working-distance": ("Working distance", None, None),
    "allowance": ("Allowance taken off for the working distance", None, None),
}
_UNITS: Final = {"[diop]": "dioptre", "deg": "degree", "cm": "centimetre"}


def bundle(exam: str, record: ExamRecord, found: Sequence[Finding]) -> dict[str, Any]:
    """The Bundle of an exam's findings, as plain data ready for JSON."""
    resources = [_observation(exam, record, finding) for finding in found]
    refined = [each for each in found if each.method == "refined" and each.lens is not None]
    if refined and record.attested is not None:
        resources.append(_prescription(exam, record, refined))
    return {
        "resourceType": "Bundle",
        "identifier": {"system": EXAMS, "value": exam},
        "type": "collection",
        "timestamp": utc_text(record.events[-1].at),
        "entry": [
            {"fullUrl": f"urn:uuid:{_identity(exam, resource)}", "resource": resource}
            for resource in resources
        ],
    }


def _identity(exam: str, resource: dict[str, Any]) -> uuid.UUID:
    """The same exam always gives the same names, so that sending it twice makes nothing double."""
    return uuid.uuid5(uuid.NAMESPACE_URL, f"{EXAMS}:{exam}:{resource['identifier'][0]['value']}")


def _observation(exam: str, record: ExamRecord, finding: Finding) -> dict[str, Any]:
    code, display = _METHODS[finding.method]
    observation = {
        "resourceType": "Observation",
        "identifier": [{"system": EXAMS, "value": f"{exam}:{finding.eye}:{code}"}],
        "status": "preliminary" if record.attested is None else "final",
        "category": [{"coding": [{"system": f"{_TERMINOLOGY}/observation-category", "code": "exam"}]}],
        "code": {
            "coding": [
                {"system": FINDINGS, "code": code, "display": display},
                {"system": _SNOMED, "code": "251794006", "display": "Refraction"},
            ],
            "text": display,
        },
        "bodySite": _own(EYES, finding.eye, f"{finding.eye.capitalize()} eye"),
        "effectiveDateTime": _last_said(record),
        "note": _notes(record, finding),
        "component": list(_components(finding)),
    }
    if record.started.reference.strip():
        observation["subject"] = _patient(record)
    if finding.technique is not None:
        observation["method"] = _own(TECHNIQUES, finding.technique.replace(" ", "-"), finding.technique)
    if record.attested is not None:
        observation["issued"] = utc_text(record.attested.at)
        observation["performer"] = [{"display": inert(record.attested.by)}]
    if finding.lens is None:
        text = f"{finding.status}: no result"
        absent = {"system": f"{_TERMINOLOGY}/data-absent-reason", "code": "unknown"}
        observation["dataAbsentReason"] = {"coding": [absent], "text": text}
    return {name: value for name, value in observation.items() if value}


def _components(finding: Finding) -> Iterable[dict[str, Any]]:
    if finding.lens is not None:
        yield from _lens(finding.lens)
    if finding.residual_d is not None:
        yield _component("residual", round(finding.residual_d, 3), "[diop]")
    for distance in finding.distances_cm:
        yield _component("working-distance", distance, "cm")
    for allowance in finding.allowances_d:
        yield _component("allowance", round(allowance, 3), "[diop]")


def _lens(lens: SpheroCylinder) -> Iterable[dict[str, Any]]:
    yield _component("sphere", lens.sphere_d, "[diop]")
    yield _component("cylinder", lens.cylinder_d, "[diop]")
    if lens.axis_deg is not None:
        yield _component("axis", _whole(lens.axis_deg), "deg")
    yield _component("spherical-equivalent", lens.spherical_equivalent_d, "[diop]")


def _component(part: str, value: float, unit: str) -> dict[str, Any]:
    display, code, name = _PARTS[part]
    coding = [{"system": FINDINGS, "code": part, "display": display}]
    if code is not None and name is not None:
        coding.append({"system": _SNOMED, "code": code, "display": name})
    quantity = {"value": value, "unit": _UNITS[unit], "system": _UCUM, "code": unit}
    return {"code": {"coding": coding, "text": display}, "valueQuantity": quantity}


def _prescription(exam: str, record: ExamRecord, refined: Sequence[Finding]) -> dict[str, Any]:
    if record.attested is None:
        raise ValueError("only an attested result can be prescribed from")
    at = utc_text(record.attested.at)
    return {
        "resourceType": "VisionPrescription",
        "identifier": [{"system": EXAMS, "value": f"{exam}:prescription"}],
        "status": "draft",
        "created": at,
        "patient": _patient(record),
        "dateWritten": at,
        "prescriber": {"display": inert(record.attested.by)},
        "lensSpecification": [_specification(each) for each in refined],
    }


def _specification(finding: Finding) -> dict[str, Any]:
    """One eye's lens: cylinder and axis both, or neither (FHIR has no rule for that)."""
    if finding.lens is None:
        raise ValueError(f"the {finding.eye} eye has no result")
    product = {"system": f"{_TERMINOLOGY}/ex-visionprescriptionproduct", "code": "lens"}
    lens: dict[str, Any] = {
        "product": {"coding": [product]},
        "eye": finding.eye,
        "sphere": finding.lens.sphere_d,
    }
    if finding.lens.axis_deg is not None:
        lens |= {"cylinder": finding.lens.cylinder_d, "axis": _whole(finding.lens.axis_deg)}
    return lens


def _whole(axis_deg: float) -> int:
    if axis_deg != int(axis_deg):
        raise ValueError(f"axis {axis_deg} is no whole number of degrees")
    return int(axis_deg)


def _patient(record: ExamRecord) -> dict[str, Any]:
    """The practice's own reference; nothing else is known of anybody."""
    reference = inert(record.started.reference, _LONGEST).strip()
    if not reference:
        return {"display": "without a reference"}
    return {"identifier": {"system": REFERENCES, "value": reference}}


def _own(system: str, code: str, display: str) -> dict[str, Any]:
    return {"coding": [{"system": system, "code": code, "display": display}], "text": display}


def _last_said(record: ExamRecord) -> str:
    said = [event.at for event in record.events if isinstance(event, Said)]
    return utc_text(said[-1] if said else record.started.at)


def _notes(record: ExamRecord, finding: Finding) -> list[dict[str, Any]]:
    notes: list[dict[str, Any]] = [{"text": text} for text in (*finding.problems, *CAUTIONS)]
    if finding.uncertainty is not None:
        notes.insert(0, {"text": f"with its uncertainty: {finding.uncertainty}"})
    for addendum in record.addenda:
        text = inert(addendum.text, _LONGEST)
        notes.append({"authorString": inert(addendum.by), "time": utc_text(addendum.at), "text": text})
    return notes
