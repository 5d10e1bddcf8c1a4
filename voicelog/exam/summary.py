"""The exam as plain data: for JSON output, the screens and the exports. Angles in degrees, powers in dioptres."""

from typing import Any

from voicelog.exam.events import Said
from voicelog.exam.finding_summary import (
    eye_findings_summary,
    findings_summary,
    lens_summary,
    mean_summary,
)
from voicelog.exam.near_summary import comparisons_summary, near_summary, remarks_summary
from voicelog.exam.state import ExamState, EyeState, TakenReading
from voicelog.optics import meridian_to_streak_deg

__all__ = ["eye_summary", "lens_summary", "summary"]


def summary(state: ExamState) -> dict[str, Any]:
    """Exam, naming, eyes and entries in order.

    Raises nothing; what is not known is None.
    """
    return {
        "exam": {
            "reference": state.reference,
            "working_distance_cm": state.distance_cm,
            "working_lens": "in" if state.lens_in else "out",
            "mirror": "concave" if state.concave_mirror else "plane",
            "eye": state.eye,
            "question": state.question.text if state.question else None,
        },
        "naming": state.naming,
        "eyes": {
            name: eye_summary(eye)
            | eye_findings_summary(state.findings.eyes[name])
            | {"near": near_summary(state.near[name])}
            for name, eye in state.eyes.items()
        },
        "findings": findings_summary(state),
        "comparisons": comparisons_summary(state),
        "remarks": remarks_summary(state),
        "entries": [_entry(state, event) for event in state.events if isinstance(event, Said)],
    }


def eye_summary(eye: EyeState) -> dict[str, Any]:
    """One eye: status, readings, net (rounded for writing down), exact (unrounded), problems.

    These are of the pass in hand. Where there are several, `passes` has them for each, and `mean` what they make
    together; `result` is the refraction to go on with.
    """
    several = eye.passes if len(eye.passes) > 1 else ()
    passes = [{"pass": number, **_solved(each)} for number, each in enumerate(several, start=1)]
    return _solved(eye) | {
        "pass": eye.pass_number + eye.pass_opened,
        "passes": passes,
        "mean": mean_summary(eye.mean),
        "result": lens_summary(eye.result) if eye.result else None,
    }


def _solved(eye: EyeState) -> dict[str, Any]:
    solution = eye.solution
    complete = eye.status in ("solved", "conflict")
    return {
        "status": eye.status,
        "readings": [_reading(each) for each in eye.readings],
        "net": lens_summary(solution.net) if complete and solution.net else None,
        "exact": lens_summary(solution.exact) if complete and solution.exact else None,
        "residual": solution.residual_d,
        "reflex": [{"reflex": reflex, "meridian": meridian} for reflex, meridian in eye.reflexes],
        "lenses": _lenses(eye.lenses.sphere_d, eye.lenses.cylinder_d, eye.lenses.axis_deg),
        "problems": [problem.text for problem in eye.problems],
    }


def _lenses(
    sphere_d: float | None, cylinder_d: float | None, axis_deg: int | None
) -> dict[str, float | int | None]:
    return {"sphere": sphere_d, "cylinder": cylinder_d, "axis": axis_deg}


def _reading(reading: TakenReading) -> dict[str, Any]:
    return {
        "entry": reading.number,
        "meridian": reading.meridian_deg,
        "streak": int(meridian_to_streak_deg(reading.meridian_deg)),
        "motion": reading.motion,
        "lenses": _lenses(reading.lenses.sphere_d, reading.lenses.cylinder_d, reading.lenses.axis_deg),
        "gross": reading.gross_d,
        "working_lens": "in" if reading.lens_in else "out",
        "working_distance_cm": reading.distance_cm,
        "allowance": reading.allowance_d,
        "net": reading.net_d,
    }


def _entry(state: ExamState, event: Said) -> dict[str, Any]:
    line = next((each for each in state.ledger.lines if each.number == event.number), None)
    return {
        "number": event.number,
        "text": event.text,
        "meaning": event.meaning.model_dump(mode="json") if event.meaning else None,
        "outcome": event.outcome,
        "state": line.state if line else None,
        "corrected_by": line.corrected_by if line else None,
        "reply": event.reply,
        "source": event.source,
        "score": event.heard.score if event.heard else None,
        "margin": event.heard.margin if event.heard else None,
        "start_s": event.heard.start_s if event.heard else None,
        "end_s": event.heard.end_s if event.heard else None,
    }
