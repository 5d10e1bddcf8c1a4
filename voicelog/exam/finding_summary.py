"""Findings and passes as plain data, the part of `summary` that is not about readings. Units are in the keys.

Refractions have the keys of `summary.lens_summary`; what is not known is None.
"""

from typing import Any

from voicelog.exam.acuity import logmar_of, written_acuity
from voicelog.exam.finding_list import entered_at, labelled_findings
from voicelog.exam.findings import EyeFindings, FoundAcuity, FoundDistance, FoundDrops, FoundLens
from voicelog.exam.passes import PassMean
from voicelog.exam.state import ExamState
from voicelog.optics import SpheroCylinder


def lens_summary(lens: SpheroCylinder) -> dict[str, float | int | None]:
    """Sphere, cylinder, axis (None without a cylinder) and spherical equivalent."""
    axis = lens.axis_deg
    return {
        "sphere": lens.sphere_d,
        "cylinder": lens.cylinder_d,
        "axis": int(axis) if axis is not None and axis == int(axis) else axis,
        "spherical_equivalent": lens.spherical_equivalent_d,
    }


def findings_summary(state: ExamState) -> dict[str, Any]:
    """What belongs to both eyes, acuity and drops; and all findings in words, in a short labelled list."""
    findings = state.findings
    return {
        "acuity": [_acuity(each) for each in findings.acuities],
        "pupils": findings.pupils_look,
        "pupils_distance": {at: _distance(findings.pupils_distance.get(at)) for at in ("far", "near")},
        "vertex_mm": findings.vertex_mm,
        "drops": [_drops(state, each) for each in findings.drops],
        "technique": findings.technique,
        "in_words": [
            {"eye": each.eye, "label": each.label, "text": each.text} for each in labelled_findings(state)
        ],
    }


def eye_findings_summary(found: EyeFindings) -> dict[str, Any]:
    """Spectacles, refined result, addition and pupil of one eye."""
    return {
        "spectacles": _lens(found.spectacles),
        "refined": _lens(found.refined),
        "addition": found.addition_d,
        "pupil_mm": found.pupil_mm,
    }


def mean_summary(mean: PassMean | None) -> dict[str, Any] | None:
    """The mean of several passes with its spread, dioptres; None of fewer than two."""
    if mean is None:
        return None
    return {
        "passes": mean.count,
        "net": lens_summary(mean.net),
        "exact": lens_summary(mean.exact),
        "spread": {"m": mean.spread.m_d, "j0": mean.spread.j0_d, "j45": mean.spread.j45_d},
        "spread_d": mean.spread_d,
        "furthest_d": mean.furthest_d,
    }


def _acuity(found: FoundAcuity) -> dict[str, Any]:
    """`logmar` is that of the line, without the letters; None for words."""
    logmar = logmar_of(found.value)
    return {
        "entry": found.number,
        "eye": found.eye,
        "correction": found.correction,
        "said": written_acuity(found.value),
        "metric": written_acuity(found.value, "metric"),
        "imperial": written_acuity(found.value, "imperial"),
        "decimal": written_acuity(found.value, "decimal"),
        "logmar": None if logmar is None else round(logmar, 3),
        "letters": found.value.letters,
        "category": found.value.category,
    }


def _lens(found: FoundLens | None) -> dict[str, Any] | None:
    """A refraction as said; without its sphere it has no spherical equivalent."""
    if found is None:
        return None
    parts = {"sphere": None, "cylinder": found.parts.cylinder_d, "axis": found.parts.axis_deg}
    whole = lens_summary(found.lens) if found.lens is not None else parts | {"spherical_equivalent": None}
    return {"entry": found.number, **whole, "addition": found.addition_d}


def _distance(found: FoundDistance | None) -> dict[str, Any] | None:
    if found is None:
        return None
    return {
        "entry": found.number,
        "both_mm": found.both_mm,
        "right_mm": found.right_mm,
        "left_mm": found.left_mm,
    }


def _drops(state: ExamState, found: FoundDrops) -> dict[str, Any]:
    at = entered_at(state, found.number)
    return {
        "entry": found.number,
        "agent": found.agent,
        "strength_percent": found.strength_percent,
        "eye": found.eye,
        "clock": f"{found.clock.hour:02d}:{found.clock.minute:02d}" if found.clock else None,
        "entered_at": at.isoformat() if at is not None else None,
    }
