"""The learner's errors as a plot of text: a bar a lesson, and where two examiners' difference ends. Pure."""

from collections.abc import Iterator, Sequence
from typing import Final

from voicelog.practice.results import LessonResult
from voicelog.practice.summing import usual_length_d

_WIDTH: Final = 44
_LEAST_SPAN_D: Final = 1.0
_EIGHTHS: Final = ("", "▏", "▎", "▍", "▌", "▋", "▊", "▉")


def bars(lessons: Sequence[LessonResult]) -> Iterator[str]:
    """A line a lesson, in their order, at most 80 letters: day, kind, size of the error in dioptres, its bar.

    The size is the length of the error's power vector. A lesson without a result has no bar.
    """
    usual = usual_length_d()
    sizes = [each.apart.length_d for each in lessons if each.apart]
    longest = max([*sizes, usual, _LEAST_SPAN_D])
    mark = min(_WIDTH - 1, round(usual / longest * _WIDTH))
    for each in lessons:
        head = f"{each.at.astimezone():%d %b} {each.kind or 'any eye':<16}"
        if each.apart is None:
            yield f"{head} none"
            continue
        size = each.apart.length_d
        yield f"{head} {size:.2f} {_marked(_bar(size / longest * _WIDTH), mark)}"


def _bar(cells: float) -> str:
    whole, eighths = divmod(round(cells * 8), 8)
    return "█" * whole + _EIGHTHS[eighths]


def _marked(bar: str, mark: int) -> str:
    """The bar with a stroke where it ends before the mark."""
    return bar if len(bar) > mark else f"{bar:<{mark}}│"
