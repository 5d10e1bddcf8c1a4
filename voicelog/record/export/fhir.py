"""HL7 FHIR R4: a Bundle with one Observation a finding.

An objective finding is an Observation, never a VisionPrescription, which is an authorisation to make lenses; a draft of
one is added only for refined results that somebody attested. Codes of public systems are used only where published
eye-care guides show them (SNOMED CT as in HL7's eye-care guides, UCUM); the rest are in code systems of our own.
No LOINC code is used: those for objective refraction say with or without cycloplegia, and whether drops had worked at a
reading is for the examiner to say. Comparisons and remarks are notes of the refraction that they are about.
"""

import uuid
from collections.abc import Container, Iterable, Sequence
from typing import Any, Final

from voicelog.exam.events import Said
from voicelog.exam.remarks import DEFERRING
from voicelog.exam.state import EYES as EXAM_EYES
from voicelog.record.chain import utc_text
from voicelog.record.exams import ExamRecord
from voicelog.record.export.cautions import BESIDE, CAUTIONS, REFINED
from voicelog.record.export.findings import Finding
from voicelog.record.export.further import Further, Quantity, compared, further, lens_quantities, remarked
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

_SHOWN: Final = {
    "retinoscopy": ("refraction",),
    "refined": ("refraction", "subjective"),
    "previous-spectacles": ("refraction",),
    "near-in-the-dark": ("refraction",),
    "addition": ("addition",),
    "acuity": ("acuity",),
    "acuity-unaided": ("acuity", "unaided"),
    "acuity-aided": ("acuity", "corrected"),
    "acuity-refined": ("acuity", "corrected"),
}
_PARTS: Final = {
    "sphere": "Sphere",
    "cylinder": "Cylinder",
    "axis": "Axis of cylinder",
    "spherical-equivalent": "Spherical equivalent",
    "residual": "Root mean square residual of the readings",
    "working-distance": "Working distance",
    "allowance": "Allowance taken off for the working distance",
    "addition": "Near addition",
    "logmar": "logMAR",
    "size": "Diameter of the pupil",
    "distance": "Distance from lens to eye",
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
    "strength": "Strength",
}
_UNITS: Final = {
    "[diop]": "dioptre",
    "deg": "degree",
    "cm": "centimetre",
    "mm": "millimetre",
    "%": "percent",
    "1": "1",
}


def bundle(exam: str, record: ExamRecord, found: Sequence[Finding]) -> dict[str, Any]:
    """The Bundle of an exam's findings, as plain data ready for JSON."""
    resources = [_refraction(exam, record, finding) for finding in found]
    names: dict[str, int] = {}
    for each in further(record):
        name = f"{exam}:{each.about or 'exam'}:{each.code}"
        names[name] = names.get(name, 0) + 1
        # Several of a kind (drops, measurements of accommodation) are told apart by their order.
        again = "" if names[name] == 1 else f":{names[name]}"
        resources.append(_further(record, each, f"{name}{again}"))
    resources += _remarks(exam, record)
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


def _observation(record: ExamRecord, name: str, code: str, display: str, shown: str) -> dict[str, Any]:
    """What all findings have in common; `shown` names the public codes that stand beside our own."""
    observation: dict[str, Any] = {
        "resourceType": "Observation",
        "identifier": [{"system": EXAMS, "value": name}],
        "status": "preliminary" if record.attested is None else "final",
        "category": [{"coding": [{"system": f"{_TERMINOLOGY}/observation-category", "code": "exam"}]}],
        "code": {
            "coding": [
                {"system": FINDINGS, "code": code, "display": display},
                *(_public(each) for each in _SHOWN.get(shown, ())),
            ],
            "text": display,
        },
        "effectiveDateTime": _last_said(record),
    }
    if record.started.reference.strip():
        observation["subject"] = _patient(record)
    if record.attested is not None:
        observation["issued"] = utc_text(record.attested.at)
        observation["performer"] = [{"display": inert(record.attested.by)}]
    return observation


def _refraction(exam: str, record: ExamRecord, finding: Finding) -> dict[str, Any]:
    code, display = _METHODS[finding.method]
    name = f"{exam}:{finding.eye}:{code}"
    observation = _observation(record, name, code, display, finding.method)
    observation["bodySite"] = _eye(finding.eye)
    observation["note"] = _notes(record, finding)
    observation["component"] = [_component(each) for each in _quantities(finding)]
    if finding.technique is not None:
        observation["method"] = _own(TECHNIQUES, finding.technique.replace(" ", "-"), finding.technique)
    if finding.lens is None:
        text = f"{finding.status}: no result"
        absent = {"system": f"{_TERMINOLOGY}/data-absent-reason", "code": "unknown"}
        observation["dataAbsentReason"] = {"coding": [absent], "text": text}
    return {name: value for name, value in observation.items() if value}


def _further(record: ExamRecord, found: Further, name: str) -> dict[str, Any]:
    """A finding beside the refractions: in words as its value, its numbers as components."""
    observation = _observation(record, name, found.code, found.name.capitalize(), found.code)
    if found.about is not None:
        observation["bodySite"] = _eye(found.about)
    observation["valueString"] = found.text
    observation["note"] = [{"text": BESIDE}]
    observation["component"] = [_component(each) for each in found.quantities]
    return {name: value for name, value in observation.items() if value}


def _quantities(finding: Finding) -> Iterable[Quantity]:
    if finding.lens is not None:
        yield from lens_quantities(finding.lens)
    if finding.residual_d is not None:
        yield Quantity("residual", round(finding.residual_d, 3), "[diop]")
    for distance in finding.distances_cm:
        yield Quantity("working-distance", distance, "cm")
    for allowance in finding.allowances_d:
        yield Quantity("allowance", round(allowance, 3), "[diop]")


def _component(found: Quantity) -> dict[str, Any]:
    display = _PARTS[found.part]
    coding = [{"system": FINDINGS, "code": found.part, "display": display}]
    if found.part in _CODES:
        coding.append(_public(found.part))
    value = _whole(found.value) if found.part == "axis" else found.value
    quantity = {"value": value, "unit": _UNITS[found.unit], "system": _UCUM, "code": found.unit}
    return {"code": {"coding": coding, "text": display}, "valueQuantity": quantity}


def _public(name: str) -> dict[str, str]:
    code, display = _CODES[name]
    return {"system": _SNOMED, "code": code, "display": display}


def _eye(name: str) -> dict[str, Any]:
    return _own(EYES, name, "Both eyes" if name == "both" else f"{name.capitalize()} eye")


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
        "lensSpecification": [_specification(record, each) for each in refined],
    }


def _specification(record: ExamRecord, finding: Finding) -> dict[str, Any]:
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
    addition_d = record.state.findings.eyes[finding.eye].addition_d
    if addition_d is not None:
        lens["add"] = addition_d
    if record.state.findings.vertex_mm is not None:
        lens["note"] = [{"text": f"vertex distance {record.state.findings.vertex_mm:g} mm"}]
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
    sure = () if finding.uncertainty is None else (f"with its uncertainty: {finding.uncertainty}",)
    if finding.method == "retinoscopy":
        cautions = (*_beside(record, (None, finding.eye)), *CAUTIONS)
    else:
        cautions = (REFINED, *CAUTIONS[1:])
    texts = (*sure, *finding.problems, *cautions)
    notes: list[dict[str, Any]] = [{"text": text} for text in texts]
    for addendum in record.addenda:
        text = inert(addendum.text, _LONGEST)
        notes.append({"authorString": inert(addendum.by), "time": utc_text(addendum.at), "text": text})
    return notes


def _beside(record: ExamRecord, about: Container[str | None]) -> tuple[str, ...]:
    """Comparisons and remarks about these eyes (None: both together), in words."""
    texts = [each.text for each in compared(record) if each.eye in about]
    remarks = [each for each in remarked(record) if each.about in about]
    texts += [f"{each.text} (source: {each.source})" for each in remarks]
    return (*texts, DEFERRING) if remarks else tuple(texts)


def _remarks(exam: str, record: ExamRecord) -> Iterable[dict[str, Any]]:
    """An Observation for the comparisons and remarks that no retinoscopy of their eye is there to carry."""
    carried = {name for name, eye in record.eyes.items() if eye.passes}
    texts = _beside(record, {*EXAM_EYES, None} - carried - ({None} if carried else set()))
    if texts:
        name, display = f"{exam}:exam:remarks", "Comparisons and remarks"
        observation = _observation(record, name, "remarks", display, "remarks")
        yield observation | {"valueString": display, "note": [{"text": text} for text in texts]}
