"""The lesson of a page, and what of it is drawn."""

import dataclasses
import itertools
from typing import Any
from weakref import WeakKeyDictionary

from voicelog.page.context import Page
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import Glimpse
from voicelog.practice.judging import judge
from voicelog.practice.lesson import Lesson, Turn
from voicelog.practice.light import CENTRE_MM2, PupilLight
from voicelog.practice.map_words import map_data
from voicelog.practice.report import as_data, glimpse_data, in_words
from voicelog.practice.telling import setting, steps
from voicelog.settings import Settings

_LESSONS: "WeakKeyDictionary[Page, Lesson]" = WeakKeyDictionary()
_KEEPS: "WeakKeyDictionary[Page, bool]" = WeakKeyDictionary()
_NAMES: "WeakKeyDictionary[Lesson, int]" = WeakKeyDictionary()
_count = itertools.count(1)


def lesson_of(page: Page) -> Lesson | None:
    """The lesson of a page; None before the first."""
    return _LESSONS.get(page)


def begin(page: Page, exercise: Exercise, settings: Settings, *, keeps: bool | None = None) -> Lesson:
    """A new lesson in the place of the one before.

    `keeps`: whether results go into the learner's store from now on; None leaves it, and at first they do.
    """
    if keeps is not None:
        _KEEPS[page] = keeps
    lesson = Lesson(exercise, settings, keeps=_KEEPS.get(page, True))
    _NAMES[lesson] = next(_count)
    _LESSONS[page] = lesson
    return lesson


def lesson_data(lesson: Lesson | None, after: int = 0) -> dict[str, Any]:
    """The lesson as the page draws it, with the turns from number `after` on; the truth only once it has ended."""
    if lesson is None:
        return {"begun": False}
    turns = list(lesson.turns)
    return {
        "begun": True,
        "lesson": _NAMES[lesson],
        "seed": lesson.exercise.seed,
        "from": after,
        "number": len(turns),
        "setting": setting(lesson.exercise, lesson.settings),
        "steps": steps(lesson.exercise, lesson.settings),
        "turns": [_turn(turn) for turn in turns[after:]],
        "look": look_data(lesson.glimpses[-1]) if lesson.glimpses else None,
        "lenses": lesson.lenses_tried,
        "seconds": round(lesson.seconds),
        "ended": lesson.ended,
        "comparison": list(in_words(lesson)) if lesson.ended else [],
        "result": as_data(lesson) if lesson.ended else None,
        "replay": _replay(lesson) if lesson.ended else None,
        "map": map_data(lesson) if lesson.ended and lesson.glimpses else None,
    }


def _replay(lesson: Lesson) -> dict[str, Any] | None:
    """The look that tells the first mistake; None where none does."""
    mistake = judge(lesson.exercise, lesson.state, lesson.looks_before).mistake
    return look_data(mistake.glimpse) if mistake and mistake.glimpse else None


def look_data(glimpse: Glimpse) -> dict[str, Any]:
    """One look with what the page draws it from: the light of the relaxed eye first, then of ever nearer ones."""
    near = glimpse.near
    return glimpse_data(glimpse) | {
        "light": [_light(each) for each in glimpse.lights],
        "near": None if near is None else dataclasses.asdict(near),
    }


def _light(light: PupilLight) -> dict[str, Any]:
    return {
        "streak": light.streak_deg,
        "pupil_mm": light.pupil_mm,
        "along": light.along_d,
        "torsion": light.torsion_d,
        "spherical": light.aberration.spherical_d_per_mm2,
        "centre_mm2": CENTRE_MM2,
        "coma": light.aberration.coma_d_per_mm,
        "travel": light.travel_d,
        "start": light.start_mrad,
        "step": light.step_mrad,
        "profile": [round(each, 5) for each in light.profile],
        "veil": light.veil,
    }


def _turn(turn: Turn) -> dict[str, Any]:
    answer = turn.answer
    return {
        "text": turn.text,
        "outcome": answer.said.outcome if answer.said else "",
        "reply": answer.said.reply if answer.said else "",
        "note": answer.text,
        "seen": answer.seen,
        "told": answer.told,
    }
