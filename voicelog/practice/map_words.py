"""The map of a lesson as a table, as plain data, and the score below it."""

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from rich.table import Table

from voicelog.exam.summary import lens_summary
from voicelog.optics import written_axis
from voicelog.practice.lesson import Lesson
from voicelog.practice.ruled_out import Map, RuledOut, ruled_out
from voicelog.practice.telling_order import most_telling_lenses


def map_of(lesson: Lesson) -> Map:
    """What each look of a lesson ruled out."""
    return ruled_out(lesson.exercise, lesson.glimpses)


def map_table(found: Map) -> Table:
    """One row a look: what the powers may still be, net, and what it told."""
    table = Table(box=None, pad_edge=False)
    for column in ("look", "streak", "lenses", "seen", *map(_left_words, found.meridians_deg), "bits (best)"):
        table.add_column(column)
    for number, look in enumerate(found.looks, start=1):
        table.add_row(
            f"{number}",
            written_axis(look.streak_deg),
            f"{look.lenses}",
            look.motion,
            *(f"{low:+.2f} to {high:+.2f}" for low, high in look.left_d),
            f"{look.bits:.1f} ({look.best_bits:.1f})",
        )
    return table


def score_words(lesson: Lesson) -> Iterator[str]:
    """The score against the most telling order; nothing without a look."""
    found = map_of(lesson)
    if found.share is None:
        return
    yield f"Your looks told {found.share:.0%} of what the most telling ones would have.".replace("%", " %")
    lenses = most_telling_lenses(lesson.exercise)
    if lenses is not None:
        yield f"The most telling order takes {lenses} lenses once the band is found; you took {lesson.lenses_tried}."


def map_data(lesson: Lesson) -> dict[str, Any]:
    """The map as plain data: degrees, net dioptres, bits."""
    found = map_of(lesson)
    return {
        "meridians": list(found.meridians_deg),
        "truth_d": list(found.truth_d),
        "share": found.share,
        "telling_lenses": most_telling_lenses(lesson.exercise),
        "words": list(score_words(lesson)),
        "looks": [_look_data(each) for each in found.looks],
    }


def _look_data(look: RuledOut) -> dict[str, Any]:
    return asdict(look) | {
        "lenses": lens_summary(look.lenses),
        "left_d": [[round(edge, 2) for edge in each] for each in look.left_d],
        "bits": round(look.bits, 2),
        "best_bits": round(look.best_bits, 2),
    }


def _left_words(meridian_deg: float) -> str:
    return f"left along {written_axis(meridian_deg)}"
