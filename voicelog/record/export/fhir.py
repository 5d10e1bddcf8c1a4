"""HL7 FHIR R4: a Bundle with a DiagnosticReport over one Observation a refraction, a reading and a finding.

An objective finding is an Observation, never a VisionPrescription, which is an authorisation to make lenses; a draft of
one is added only for subjective results that somebody attested. For the same reason an objective finding stays
`preliminary`: attesting says that it was seen so, not that lenses follow from it. Which codes are used, and why, is in
`fhir_codes`. Comparisons and remarks are notes of the refraction that they are about.
"""

import json
import uuid
from collections.abc import Container, Iterable, Sequence
from datetime import datetime
from typing import Any, Final

from voicelog.exam.entries import AdditionEntry, Quantity, SubjectiveEntry, VertexEntry
from voicelog.exam.entries.prescription import lens_quantities
from voicelog.exam.pass_state import TakenReading
from voicelog.exam.remarks import DEFERRING
from voicelog.exam.state import EYES as EXAM_EYES
from voicelog.record.chain import utc_text
from voicelog.record.exams import ExamRecord
from voicelog.record.export.cautions import BESIDE, CAUTIONS, SUBJECTIVE
from voicelog.record.export.fhir_codes import (
    EXAMS,
    FINDINGS,
    SHOWN,
    TERMINOLOGY,
    body_site,
    capital,
    component,
    condition_part,
    is_objective,
    method,
    public_code,
    purpose_part,
    technique_part,
)
from voicelog.record.export.fhir_report import diagnostic_report, patient
from voicelog.record.export.further import SUBJECTIVE_CODE, Further, compared, further, remarked
from voicelog.record.export.kept import Kept
from voicelog.record.export.refractions import Refraction, refractions
from voicelog.record.inert import inert

_LONGEST: Final = 10_000  # characters of a note; FHIR allows 1,048,576

_RETINOSCOPY: Final = "Objective refraction by streak retinoscopy"


def write(kept: Kept) -> bytes:
    """The Bundle as a file."""
    return (json.dumps(bundle(kept.exam, kept.record), indent=2) + "\n").encode()


def bundle(exam: str, record: ExamRecord) -> dict[str, Any]:
    """The Bundle of an exam, as plain data ready for JSON."""
    resources = []
    for each in refractions(record):
        readings = [_reading(exam, record, taken) for taken in each.readings]
        resources += [_refraction(exam, record, each, readings), *readings]
    names: dict[str, int] = {}
    for found in further(record):
        name = f"{exam}:{found.about or 'exam'}:{found.code}"
        names[name] = names.get(name, 0) + 1
        # Several of a kind (drops, measurements of accommodation) are told apart by their order.
        again = "" if names[name] == 1 else f":{names[name]}"
        resources.append(_further(record, found, f"{name}{again}"))
    resources += _remarks(exam, record)
    addresses = [_address(exam, each) for each in resources]
    if addresses:
        resources.insert(0, diagnostic_report(exam, record, _last_said(record), addresses))
    if record.attested is not None and any(record.state.findings.of(SubjectiveEntry)):
        resources.append(_prescription(exam, record))
    return {
        "resourceType": "Bundle",
        "identifier": {"system": EXAMS, "value": exam},
        "type": "collection",
        "timestamp": utc_text(record.events[-1].at),
        "entry": [{"fullUrl": _address(exam, resource), "resource": resource} for resource in resources],
    }


def _address(exam: str, resource: dict[str, Any]) -> str:
    return f"urn:uuid:{_identity(exam, resource)}"


def _identity(exam: str, resource: dict[str, Any]) -> uuid.UUID:
    """The same exam always gives the same names, so that sending it twice makes nothing double."""
    return uuid.uuid5(uuid.NAMESPACE_URL, f"{EXAMS}:{exam}:{resource['identifier'][0]['value']}")


def _observation(
    record: ExamRecord, name: str, code: str, display: str, at: datetime | None = None
) -> dict[str, Any]:
    """What all have in common; `at` None: as long as something was said."""
    observation: dict[str, Any] = {
        "resourceType": "Observation",
        "identifier": [{"system": EXAMS, "value": name}],
        "status": "preliminary" if record.attested is None or is_objective(code) else "final",
        "category": [{"coding": [{"system": f"{TERMINOLOGY}/observation-category", "code": "exam"}]}],
        "code": {
            "coding": [
                {"system": FINDINGS, "code": code, "display": display},
                *(public_code(each) for each in SHOWN.get(code, ())),
            ],
            "text": display,
        },
        "effectiveDateTime": _last_said(record) if at is None else utc_text(at),
    }
    how = method(code)
    if how is not None:
        observation["method"] = how
    if record.started.reference.strip():
        observation["subject"] = patient(record)
    if record.attested is not None:
        observation["issued"] = utc_text(record.attested.at)
        observation["performer"] = [{"display": inert(record.attested.by)}]
    return observation


def _refraction(
    exam: str, record: ExamRecord, found: Refraction, readings: Sequence[dict[str, Any]]
) -> dict[str, Any]:
    # A dry result has the name that results had before wet ones stood apart.
    which = "" if found.condition == "dry" else f":{found.condition}"
    observation = _observation(record, f"{exam}:{found.eye}:retinoscopy{which}", "retinoscopy", _RETINOSCOPY)
    observation["bodySite"] = body_site(found.eye)
    observation["note"] = _notes(record, found)
    observation["derivedFrom"] = [{"reference": _address(exam, reading)} for reading in readings]
    technique = [] if found.technique is None else [technique_part(found.technique)]
    observation["component"] = [
        *purpose_part("retinoscopy"),
        condition_part(found.condition),
        *technique,
        *map(component, _quantities(found)),
    ]
    if found.lens is None:
        text = f"{found.status}: no result"
        absent = {"system": f"{TERMINOLOGY}/data-absent-reason", "code": "unknown"}
        observation["dataAbsentReason"] = {"coding": [absent], "text": text}
    return {name: value for name, value in observation.items() if value}


def _reading(exam: str, record: ExamRecord, taken: TakenReading) -> dict[str, Any]:
    """One look with everything it was taken with: in words as its value, its numbers as components."""
    entry, line = taken.entry, record.lines.get(taken.number)
    name = f"{exam}:entry:{taken.id}"
    at = None if line is None or line.added is not None else line.at  # when it was seen is then not known
    observation = _observation(record, name, entry.code, entry.title.capitalize(), at)
    observation["bodySite"] = body_site(entry.eye)
    observation["valueString"] = (
        f"{entry.short_words()}; {entry.allowance.words()}; {entry.mirror} mirror; {entry.condition}; "
        f"pass {entry.pass_number}"
    )
    observation["component"] = [
        *purpose_part(entry.code),
        condition_part(entry.condition),
        *map(component, entry.quantities()),
    ]
    return observation


def _further(record: ExamRecord, found: Further, name: str) -> dict[str, Any]:
    """A finding beside the refractions: in words as its value, its numbers as components."""
    observation = _observation(record, name, found.code, capital(found.name), found.at)
    if found.about is not None:
        observation["bodySite"] = body_site(found.about)
    words = inert(found.text, _LONGEST)
    texts = [SUBJECTIVE, *CAUTIONS[1:]] if found.code == SUBJECTIVE_CODE else [BESIDE]
    if any(each.part == found.code for each in found.quantities):
        texts.insert(
            0, words
        )  # FHIR's rule obs-7: a value and a component of the same code exclude each other
    else:
        observation["valueString"] = words
    observation["note"] = [{"text": text} for text in texts]
    observation["component"] = [*purpose_part(found.code), *map(component, found.quantities)]
    return {name: value for name, value in observation.items() if value}


def _quantities(found: Refraction) -> Iterable[Quantity]:
    if found.lens is not None:
        yield from lens_quantities(found.lens)
    if found.residual_d is not None:
        yield Quantity("residual", round(found.residual_d, 3), "[diop]")
    for distance in found.distances_cm:
        yield Quantity("working-distance", distance, "cm")
    for allowance in found.allowances_d:
        yield Quantity("allowance", round(allowance, 3), "[diop]")


def _prescription(exam: str, record: ExamRecord) -> dict[str, Any]:
    if record.attested is None:
        raise ValueError("only an attested result can be prescribed from")
    at = utc_text(record.attested.at)
    found = [(name, record.state.findings.last(SubjectiveEntry, name)) for name in EXAM_EYES]
    return {
        "resourceType": "VisionPrescription",
        "identifier": [{"system": EXAMS, "value": f"{exam}:prescription"}],
        "status": "draft",
        "created": at,
        "patient": patient(record),
        "dateWritten": at,
        "prescriber": {"display": inert(record.attested.by)},
        "lensSpecification": [_specification(record, entry) for _, entry in found if entry is not None],
    }


def _specification(record: ExamRecord, found: SubjectiveEntry) -> dict[str, Any]:
    """One eye's lens: cylinder and axis both, or neither (FHIR has no rule for that)."""
    findings = record.state.findings
    product = {"system": f"{TERMINOLOGY}/ex-visionprescriptionproduct", "code": "lens"}
    lens: dict[str, Any] = {
        "product": {"coding": [product]},
        "eye": found.eye,
        "sphere": found.sphere_d,
    }
    if found.cylinder is not None:
        lens |= {"cylinder": found.cylinder.power_d, "axis": found.cylinder.axis_deg}
    addition = findings.last(AdditionEntry, found.eye)
    if addition is not None:
        lens["add"] = addition.power_d
    vertex = findings.last(VertexEntry)
    if vertex is not None:
        lens["note"] = [{"text": f"{vertex.title} {vertex.value_words()}"}]
    return lens


def _last_said(record: ExamRecord) -> str:
    said = [line.at for line in record.lines.values() if line.added is None]
    return utc_text(said[-1] if said else record.started.at)


def _notes(record: ExamRecord, found: Refraction) -> list[dict[str, Any]]:
    sure = () if found.uncertainty is None else (f"with its uncertainty: {found.uncertainty}",)
    beside = _beside(record, (None, found.eye)) if found.in_hand else ()
    texts = (*sure, *found.problems, *beside, *CAUTIONS)
    notes: list[dict[str, Any]] = [{"text": text} for text in texts]
    for addendum in record.addenda:
        text = inert(addendum.text, _LONGEST)
        notes.append({"authorString": inert(addendum.by), "time": utc_text(addendum.at), "text": text})
    for line in record.added:
        if line.added is not None:
            text = inert(f"{line.text}: {line.added.words}", _LONGEST)
            notes.append({"authorString": inert(line.added.by), "time": utc_text(line.at), "text": text})
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
        observation = _observation(record, name, "remarks", display)
        yield observation | {"valueString": display, "note": [{"text": text} for text in texts]}
