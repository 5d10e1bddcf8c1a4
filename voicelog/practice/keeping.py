"""A lesson that has ended goes into the learner's own store."""

import sys
from collections.abc import Callable

from voicelog.practice.lesson import Lesson
from voicelog.practice.progress import ProgressError, keep
from voicelog.practice.results import LessonResult, result_of


def keep_lesson(lesson: Lesson, tell: Callable[[str], None] | None = None) -> LessonResult | None:
    """Keep what a lesson came to; None, and nothing kept, where it was left early or does not keep.

    A store that cannot be written is told, on standard error unless `tell` is given; the lesson is not lost by it.
    """
    if not (lesson.keeps and lesson.ended and lesson.glimpses):
        return None
    lesson.keeps = False  # once: a lesson on the page may be ended there or by voice
    result = result_of(lesson)
    try:
        keep(result)
    except ProgressError as error:
        (tell or _on_standard_error)(f"NOT KEPT: {error}")
    return result


def _on_standard_error(text: str) -> None:
    print(text, file=sys.stderr)
