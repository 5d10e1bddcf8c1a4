"""Lessons summed up by kind of eye, and beside them what is published of retinoscopy's repeatability. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from voicelog.exam.guidance import limit
from voicelog.practice.kinds import NAMES
from voicelog.practice.results import Apart, LessonResult
from voicelog.practice.returning import is_right


@dataclass(frozen=True, slots=True)
class Summed:
    """Lessons of one kind (empty: eyes of no kind). Means; errors over the lessons that have a result, else None.

    lenses_over_telling  lenses more than the most telling order takes, over the lessons where it comes to an end
    m_d, j0_d, j45_d     mean error, logged less true: what is always off the same way shows here
    length_d             mean length of the error's power vector
    axis_deg             mean size of the axis error
    usual                lessons whose error is within what is published as the usual scatter
    """

    kind: str
    lessons: int
    right: int
    lenses: float
    minutes: float
    lenses_over_telling: float | None
    with_result: int
    m_d: float | None
    j0_d: float | None
    j45_d: float | None
    length_d: float | None
    axis_deg: float | None
    usual: int


def usual_length_d() -> float:
    """How near two examiners come, dioptres: published repeatability (guidance.toml names the source)."""
    return limit("usual_difference_d")


def summed_up(lessons: Sequence[LessonResult]) -> list[Summed]:
    """A sum for each kind that was done, from easy to hard; eyes of no kind last."""
    return [
        _summed(name, mine)
        for name in (*NAMES, "")
        if (mine := [each for each in lessons if each.kind == name])
    ]


def _summed(name: str, lessons: Sequence[LessonResult]) -> Summed:
    apart: list[Apart] = [each.apart for each in lessons if each.apart is not None]
    more = [each.lenses - each.telling_lenses for each in lessons if each.telling_lenses is not None]
    return Summed(
        kind=name,
        lessons=len(lessons),
        right=sum(map(is_right, lessons)),
        lenses=fmean(each.lenses for each in lessons),
        minutes=fmean(each.minutes for each in lessons),
        lenses_over_telling=_mean(more),
        with_result=len(apart),
        m_d=_mean([each.m_d for each in apart]),
        j0_d=_mean([each.j0_d for each in apart]),
        j45_d=_mean([each.j45_d for each in apart]),
        length_d=_mean([each.length_d for each in apart]),
        axis_deg=_mean([abs(each.axis_deg) for each in apart if each.axis_deg is not None]),
        usual=sum(each.length_d <= usual_length_d() for each in apart),
    )


def _mean(values: Sequence[float]) -> float | None:
    return fmean(values) if values else None
