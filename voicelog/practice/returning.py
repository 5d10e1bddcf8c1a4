"""Spaced return: when a kind of exercise comes again. Pure.

The rule, after the boxes of Leitner (from memory; the days are our own choice, no source): a kind that went wrong comes
again the next day. Each time it goes right, one after the other, the wait doubles: 2, 4, 8, then 16 days. "Right" is a
result close to the truth (`judging.CLOSE_D`) without a mistake.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import takewhile
from typing import Final

from voicelog.practice.kinds import KINDS, Kind
from voicelog.practice.results import LessonResult

LONGEST_DAYS: Final = 16


@dataclass(frozen=True, slots=True)
class Return:
    """A kind, and when it comes again; `due` is None for one that was never done. `right`: times running."""

    kind: Kind
    due: datetime | None
    right: int = 0


def is_right(lesson: LessonResult) -> bool:
    """Whether a lesson went right."""
    return lesson.close and lesson.mistake is None


def wait_days(right: int) -> int:
    """Days until a kind comes again that went right so many times running."""
    return min(LONGEST_DAYS, int(2**right))


def returns(lessons: Sequence[LessonResult], now: datetime) -> list[Return]:
    """Every kind, in the order in which to take them.

    First what is due, the longest due first; then kinds that are new, from easy to hard; then what is due later.
    """
    found = [_return(kind, [each for each in lessons if each.kind == kind.name]) for kind in KINDS]
    due = [each for each in found if each.due is not None and each.due <= now]
    new = [each for each in found if each.due is None]
    later = [each for each in found if each.due is not None and each.due > now]

    def when(each: Return) -> datetime:
        return each.due or now

    return [*sorted(due, key=when), *new, *sorted(later, key=when)]


def _return(kind: Kind, lessons: Sequence[LessonResult]) -> Return:
    if not lessons:
        return Return(kind, None)
    # By the time, not by the place in the file: two machines' files may have been put together.
    order = sorted(lessons, key=lambda each: each.at)
    right = len(list(takewhile(is_right, reversed(order))))
    return Return(kind, order[-1].at + timedelta(days=wait_days(right)), right)
