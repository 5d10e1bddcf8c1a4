"""Lessons held at the terminal, with typed lines or by the scripted examiner; `voice.py` holds the spoken one."""

import json
from collections.abc import Iterable, Sequence

from rich.console import Console

from voicelog.practice.exercise import Exercise
from voicelog.practice.keeping import keep_lesson
from voicelog.practice.lesson import Lesson
from voicelog.practice.results import LessonResult, result_of
from voicelog.practice.shown import Shown
from voicelog.practice.tables import result_data, set_table, set_words
from voicelog.practice.watching import scenes
from voicelog.settings import Settings


def typed(lesson: Lesson, lines: Iterable[str], *, as_json: bool, words: bool = True) -> None:
    """Take typed lines until they end or one says so, then compare. `words`: each look is told without being asked."""
    show = Shown(lesson, as_json=as_json, words=words)
    show.beginning()
    _take(lesson, lines, show)
    show.end()
    keep_lesson(lesson)


def typed_set(
    exercises: Sequence[Exercise],
    settings: Settings,
    lines: Iterable[str],
    *,
    title: str = "",
    as_json: bool,
    words: bool = True,
    keeps: bool,
) -> None:
    """One lesson after the other, each until "done", then a table of the results; lines that end early end the set."""
    console, lines, results = Console(highlight=False), iter(lines), list[LessonResult]()
    for number, exercise in enumerate(exercises, start=1):
        lesson = Lesson(exercise, settings, keeps=keeps)
        show = Shown(lesson, as_json=as_json, words=words)
        show.line(f"{title or 'Set'}: {number} of {len(exercises)}")
        show.beginning(steps_too=number == 1)
        _take(lesson, lines, show)
        if not as_json:  # one object at the very end
            show.end()
            show.line("")
        if not lesson.ended:
            break
        results.append(keep_lesson(lesson) or result_of(lesson))
    if as_json:
        found = [result_data(each) for each in results]
        print(json.dumps({"title": title, "set": len(exercises), "results": found}))
        return
    console.print(set_table(results))
    for line in set_words(results, len(exercises)):
        console.print(line, markup=False)


def _take(lesson: Lesson, lines: Iterable[str], show: Shown) -> None:
    for line in lines:
        answer = lesson.type_line(line)
        if answer.ended:
            break
        show.answer(answer)
        show.prompt()


def watched(exercise: Exercise, settings: Settings, *, as_json: bool, advised: bool = False) -> None:
    """The scripted examiner at work on the exercise: every look and every line; `advised`: asks for the next lens."""
    lesson = Lesson(exercise, settings)
    show = Shown(lesson, as_json=as_json)
    show.head()
    for scene in scenes(lesson, advised=advised):
        if scene.glimpse is not None:
            show.glance(scene.glimpse)
        elif scene.said is not None:
            plain = scene.said.outcome == "accepted" and scene.said.entries
            show.line(f"says: {scene.text}" if plain else f"says: {scene.text} ({scene.said.reply})")
    show.end()
