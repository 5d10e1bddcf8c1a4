"""Near findings, comparisons and remarks as plain data: parts of `summary`. Powers in dioptres, angles in degrees."""

from typing import Any

from voicelog.exam.comparisons import comparisons
from voicelog.exam.finding_summary import lens_summary
from voicelog.exam.near import Accommodation, DarkResult, NearFindings
from voicelog.exam.remarking import exam_remarks
from voicelog.exam.state import ExamState


def near_summary(found: NearFindings) -> dict[str, Any]:
    """`dark`: near retinoscopy in the dark, None without a reading; `accommodation`: every measurement of it."""
    return {
        "dark": None if found.dark is None else _dark(found.dark),
        "accommodation": [_accommodation(each) for each in found.accommodation],
    }


def comparisons_summary(state: ExamState) -> list[dict[str, Any]]:
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


def remarks_summary(state: ExamState) -> list[dict[str, Any]]:
    """Each remark with its source; `eye` None: both eyes, or drops."""
    return [
        {"id": each.id, "eye": each.about, "text": each.text, "source": each.source}
        for each in exam_remarks(state)
    ]


def _dark(found: DarkResult) -> dict[str, Any]:
    return {
        "entries": [each.number for each in found.readings],
        "age": found.adjustment.age,
        "adjustment": found.adjustment.taken_off_d,
        "net": None if found.net is None else lens_summary(found.net),
        "exact": None if found.exact is None else lens_summary(found.exact),
        "problems": [each.text for each in found.problems],
    }


def _accommodation(found: Accommodation) -> dict[str, Any]:
    return {
        "entry": found.number,
        "method": found.method,
        "lag": found.lag_d,
        "target_cm": found.target_cm,
        "neutral_cm": found.neutral_cm,
    }
