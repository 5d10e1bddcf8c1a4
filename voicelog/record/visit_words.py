"""Visits of one reference in words and as plain data."""

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from typing import Any, Final

from voicelog.exam.differences import in_words, scatter_words
from voicelog.optics import YearlyChange
from voicelog.record.visits import Course, day

NOTES: Final = (
    "A difference within the usual scatter cannot be told from two readings of an unchanged eye. M is the spherical "
    "equivalent; minus is towards myopia.",
    "The rate is a straight line through all visits. It does not say why an eye changed, nor how it will go on.",
    "Objective findings: a licensed person judges them. Local rules come first.",
)
_TWO_SIDED_95: Final = 1.96


def lines(found: Sequence[Course]) -> Iterator[str]:
    """Each eye's visits, line by line."""
    for course in found:
        yield f"{course.eye} eye, {course.condition}:"
        changes = [""] + [
            f"  {in_words(each.apart)}; {scatter_words(bool(each.usual))}"
            + "".join(f"; {question.text}" for question in each.questions)
            for each in course.changes
        ]
        for visit, change in zip(course.visits, changes, strict=True):
            yield f"  {day(visit.at)}  {visit.result}{change}"
        if course.yearly is not None:
            yield f"  {rate_words(course.yearly)}"
    if not found:
        yield "no eye was solved at any visit"
    yield from NOTES


def rate_words(yearly: YearlyChange) -> str:
    """ "M -0.75 D a year (-1.20 to -0.30, 95 %)"."""
    half = _TWO_SIDED_95 * yearly.sd_d
    low, high = yearly.per_year_d - half, yearly.per_year_d + half
    return f"M {yearly.per_year_d:+.2f} D a year ({low:+.2f} to {high:+.2f}, 95 %)"


def as_data(found: Sequence[Course]) -> dict[str, Any]:
    """The same as plain data: dioptres, dioptres a year; each change is of a visit against the one before."""
    return {
        "eyes": [
            {
                "eye": course.eye,
                "condition": course.condition,
                "visits": [
                    {
                        "exam": visit.exam,
                        "at": visit.at.isoformat(),
                        "written": str(visit.result),
                        "m_d": visit.m_d,
                        "m_sd_d": visit.m_sd_d,
                    }
                    for visit in course.visits
                ],
                "changes": [
                    {
                        "m_d": each.apart.vector.m_d,
                        "j0_d": each.apart.vector.j0_d,
                        "j45_d": each.apart.vector.j45_d,
                        "apart_d": each.apart.blur_strength_d,
                        "usual": each.usual,
                    }
                    for each in course.changes
                ],
                "yearly": None if course.yearly is None else asdict(course.yearly),
            }
            for course in found
        ],
        "notes": list(NOTES),
    }
