"""The end of a lesson: as plain data, and in words."""

import math
from collections.abc import Iterator
from typing import Any

from voicelog.exam.summary import lens_summary, summary
from voicelog.optics import lens_effort, round_refraction, written_power
from voicelog.practice.eye import Glimpse
from voicelog.practice.judging import Judgement, judge
from voicelog.practice.lesson import Lesson
from voicelog.practice.telling import glimpsed

_RANGE_D = 10.0
ENOUGH_LENSES = 2 * lens_effort((), -_RANGE_D, _RANGE_D).best_possible
"""Halving what is left each time: sure to be enough for two meridians within 10 D either way."""


def as_data(lesson: Lesson) -> dict[str, Any]:
    """Everything of a lesson; powers in dioptres, angles in degrees, widths in millimetres."""
    found = judge(lesson.exercise, lesson.state, lesson.looks_before)
    mistake = found.mistake
    return {
        "seed": lesson.exercise.seed,
        "technique": lesson.exercise.technique,
        "eye": lesson.exercise.eye,
        "truth": lens_summary(found.truth),
        "found": lens_summary(found.found) if found.found else None,
        "largest_difference": found.difference.largest_power_d if found.difference else None,
        "close": found.close,
        "mistake": None
        if mistake is None
        else {"code": mistake.code, "entry": mistake.entry, "text": mistake.text},
        "lenses": lesson.lenses_tried,
        "enough_lenses": ENOUGH_LENSES,
        "seconds": round(lesson.seconds, 1),
        "looks": [glimpse_data(each) for each in lesson.glimpses],
        "exam": summary(lesson.state),
    }


def glimpse_data(glimpse: Glimpse) -> dict[str, Any]:
    """One look; what has no number (the speed of a reflex that lights up at once) is None."""
    reflex = glimpse.reflex
    return {
        "lenses": lens_summary(glimpse.lenses),
        "streak": glimpse.streak_deg,
        "motion": reflex.motion,
        "speed": _finite(reflex.speed),
        "band": None if reflex.band_deg is None else round(reflex.band_deg, 1),
        "width_mm": _finite(reflex.width_mm),
        "pupil_mm": reflex.pupil_mm,
        "brightness": round(reflex.brightness, 3),
        "second_mm": None if reflex.second_mm is None else round(reflex.second_mm, 2),
        "seen": glimpsed(glimpse),
    }


def in_words(lesson: Lesson) -> Iterator[str]:
    """The comparison, one line each."""
    found = judge(lesson.exercise, lesson.state, lesson.looks_before)
    yield f"true     {round_refraction(found.truth)}"
    yield f"logged   {found.found if found.found else 'no result'}"
    if found.difference is not None:
        yield f"apart    {found.difference.largest_power_d:.2f} D at most, in any meridian"
    minutes, seconds = divmod(round(lesson.seconds), 60)
    yield (
        f"lenses   {lesson.lenses_tried} (halving what is left each time, {ENOUGH_LENSES} are always enough "
        f"from {written_power(-_RANGE_D)} to {written_power(_RANGE_D)})"
    )
    yield f"time     {minutes} min {seconds} s"
    yield _verdict(found)


def _verdict(found: Judgement) -> str:
    if found.mistake is not None:
        return f"The first mistake: {found.mistake.text}."
    if found.close:
        return "Right: as near as one retinoscopy comes, about a quarter to half a dioptre."
    return "Not the same refraction, although no single entry was wrong: take the readings again."


def _finite(value: float) -> float | None:
    return round(value, 3) if math.isfinite(value) else None
