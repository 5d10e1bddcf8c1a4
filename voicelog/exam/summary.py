"""The exam as plain data: for JSON output, the screens and the exports. Angles in degrees, powers in dioptres."""

from typing import Any

from voicelog.exam.comparisons import comparisons
from voicelog.exam.entries import (
    AdditionEntry,
    BaseEntry,
    EstimateEntry,
    SpectaclesEntry,
    SubjectiveEntry,
    TrialLenses,
)
from voicelog.exam.events import Line
from voicelog.exam.eye_state import EyeState
from voicelog.exam.findings import Found
from voicelog.exam.near import Accommodation, DarkResult, NearFindings
from voicelog.exam.pass_state import PassState, TakenReading
from voicelog.exam.passes import PassMean
from voicelog.exam.remarks import exam_remarks
from voicelog.exam.since_drops import since_drops
from voicelog.exam.standing import EyeName
from voicelog.exam.state import ExamState
from voicelog.optics import SpheroCylinder


def summary(state: ExamState) -> dict[str, Any]:
    """Exam, naming, eyes, findings and lines in order.

    Raises nothing; what is not known is None.
    """
    return {
        "exam": {
            "reference": state.reference,
            "working_distance_cm": state.distance_cm,
            "working_lens": "in" if state.lens_in else "out",
            "mirror": state.mirror,
            "eye": state.eye,
            "question": state.question.text if state.question else None,
            "questions": [each.question.text for each in state.dialogue.questions],
            "waiting": len(state.dialogue.waiting),
        },
        "naming": state.naming,
        "eyes": {name: _eye(state, name, eye) for name, eye in state.eyes.items()},
        "findings": [finding_summary(each) for each in state.findings.found],
        "comparisons": _comparisons(state),
        "remarks": _remarks(state),
        "entries": [_line(state, event) for event in state.events if isinstance(event, Line)],
        "ledger": [
            {
                "id": row.id,
                "state": row.state,
                "changed_by": row.changed_by,
                "entry": entry_summary(row.entry),
            }
            for row in state.ledger.rows.values()
        ],
    }


def entry_summary(entry: BaseEntry) -> dict[str, Any]:
    """Any entry as plain data with its words."""
    return {**entry.as_json(), "words": entry.words()}


def finding_summary(found: Found) -> dict[str, Any]:
    """A finding: its entry, whose it is, its name and value in words, its numbers with UCUM units."""
    entry = found.entry
    return {
        "id": found.id,
        "eye": entry.about,
        "label": entry.label,
        "text": entry.value_words(),
        "quantities": [
            {"part": each.part, "value": each.value, "unit": each.unit} for each in entry.quantities()
        ],
        "entry": entry.as_json(),
    }


def lens_summary(lens: SpheroCylinder) -> dict[str, float | int | None]:
    """Sphere, cylinder, axis (None without a cylinder) and spherical equivalent."""
    axis = lens.axis_deg
    return {
        "sphere": lens.sphere_d,
        "cylinder": lens.cylinder_d,
        "axis": int(axis) if axis is not None and axis == int(axis) else axis,
        "spherical_equivalent": lens.spherical_equivalent_d,
    }


def _eye(state: ExamState, name: EyeName, eye: EyeState) -> dict[str, Any]:
    addition = state.findings.last(AdditionEntry, name)
    return eye_summary(eye) | {
        "subjective": _prescription(state.findings.last(SubjectiveEntry, name)),
        "spectacles": _prescription(state.findings.last(SpectaclesEntry, name)),
        "addition": None if addition is None else addition.power_d,
        "near": near_summary(state.near[name]),
        "since_drops": [
            {
                "entry": each.reading.id,
                "drops": each.drops.given,
                "minutes": each.minutes,
                "early": each.early,
            }
            for each in since_drops(state, name)
        ],
    }


def _prescription(entry: SubjectiveEntry | SpectaclesEntry | None) -> dict[str, Any] | None:
    if entry is None:
        return None
    addition = {"addition": entry.addition_d} if isinstance(entry, SpectaclesEntry) else {}
    return lens_summary(entry.lens) | addition


def eye_summary(eye: EyeState) -> dict[str, Any]:
    """One eye: status, readings, net (rounded for writing down), exact (unrounded), problems.

    These are of the pass in hand. Where there are several, `passes` has them for each, and `mean` what those of one
    condition (dry or wet) make together; `results` has the refraction of each condition, and `result` the one to go on
    with.
    """
    several = eye.passes if len(eye.passes) > 1 else ()
    results = {condition: eye.result_of(condition) for condition in eye.conditions}
    return _solved(eye.in_hand) | {
        "lenses": _lenses(eye.lenses),
        "reflex": [{"reflex": each.reflex, "meridian": each.meridian_deg} for each in eye.reflexes],
        "pass": eye.next_pass_number,
        "condition": eye.in_hand.condition if eye.passes else eye.condition,
        "passes": [{"pass": each.number, **_solved(each)} for each in several],
        "mean": _mean(eye.mean),
        "result": lens_summary(eye.result) if eye.result else None,
        "results": {name: lens_summary(lens) if lens else None for name, lens in results.items()},
    }


def _solved(taken: PassState) -> dict[str, Any]:
    solution = taken.solution
    estimate = solution.found.estimate
    return {
        "status": taken.status,
        "condition": taken.condition,
        "readings": [_reading(each, stands=each in taken.neutral) for each in taken.readings],
        "net": lens_summary(solution.net) if solution.net else None,
        "exact": lens_summary(solution.exact) if solution.exact else None,
        "estimate": lens_summary(estimate.lens) if estimate else None,
        "uncertainty": taken.uncertainty,
        "residual": solution.residual_d,
        "problems": [problem.text for problem in taken.problems],
    }


def _lenses(lenses: TrialLenses) -> dict[str, float | int | None]:
    return {"sphere": lenses.sphere_d, "cylinder": lenses.cylinder_d, "axis": lenses.axis_deg}


def _reading(reading: TakenReading, *, stands: bool) -> dict[str, Any]:
    entry = reading.entry
    return {
        "entry": reading.id,
        "meridian": entry.meridian_deg,
        "streak": entry.streak_deg,
        "motion": entry.motion,
        "stands": stands,
        "lenses": _lenses(entry.lenses),
        "gross": entry.gross_d,
        "mirror": entry.mirror,
        "working_lens": "in" if entry.allowance.lens_in else "out",
        "working_distance_cm": entry.allowance.distance_cm,
        "allowance": entry.allowance.taken_off_d,
        "net": entry.net_d,
        "approximate": entry.approximate,
    }


def _mean(mean: PassMean | None) -> dict[str, Any] | None:
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


def near_summary(found: NearFindings) -> dict[str, Any]:
    """`dark`: near retinoscopy in the dark, None without a reading; `accommodation`: every measurement of it."""
    return {
        "dark": None if found.dark is None else _dark(found.dark),
        "accommodation": [_accommodation(name, each) for name, each in found.accommodation],
    }


def _dark(found: DarkResult) -> dict[str, Any]:
    return {
        "entries": list(found.ids),
        "age": found.adjustment.age,
        "adjustment": found.adjustment.taken_off_d,
        "net": None if found.net is None else lens_summary(found.net),
        "exact": None if found.exact is None else lens_summary(found.exact),
        "problems": [each.text for each in found.problems],
    }


def _accommodation(name: str, found: Accommodation) -> dict[str, Any]:
    nott = None if isinstance(found, EstimateEntry) else found
    return {
        "entry": name,
        "method": found.kind,
        "lag": found.lag_d,
        "target_cm": nott.target_cm if nott else None,
        "neutral_cm": nott.neutral_cm if nott else None,
    }


def _comparisons(state: ExamState) -> list[dict[str, Any]]:
    """Each comparison: its difference (first less second) as a power vector, its questions, and all of it in words."""
    return [
        {
            "eye": each.eye,
            "first": each.first_name,
            "second": each.second_name,
            "m": each.apart.vector.m_d,
            "j0": each.apart.vector.j0_d,
            "j45": each.apart.vector.j45_d,
            "usual": each.usual,
            "questions": [{"code": question.code, "text": question.text} for question in each.questions],
            "text": each.text,
        }
        for each in comparisons(state)
    ]


def _remarks(state: ExamState) -> list[dict[str, Any]]:
    """Each remark with its source; `eye` None: both eyes, or drops."""
    return [
        {"id": each.id, "eye": each.about, "text": each.text, "source": each.source}
        for each in exam_remarks(state)
    ]


def _line(state: ExamState, event: Line) -> dict[str, Any]:
    """A line with the ids of the entries that it brought."""
    return {
        "number": event.number,
        "text": event.text,
        "meanings": [meaning.model_dump(mode="json") for meaning in event.meanings],
        "outcome": event.outcome,
        "entries": [row.id for row in state.ledger.rows.values() if row.number == event.number],
        "reply": event.reply,
        "source": event.source,
        "score": event.heard.score if event.heard else None,
        "margin": event.heard.margin if event.heard else None,
        "start_s": event.heard.start_s if event.heard else None,
        "end_s": event.heard.end_s if event.heard else None,
    }
