"""Shorter texts hold the same numbers."""

import re

import pytest

from tests.page.far_cases import CASES
from voicelog.exam.events import Line
from voicelog.page.brief import brief
from voicelog.session import Session
from voicelog.settings import Settings

NUMBER = re.compile(r"[+-]?\d+(?:\.\d+)?|plano")
# A place has two names, of which one is left out; what is upright or level is written as its angle.
OTHER_NAME = re.compile(r" \((?:power along|streak) \d+\)")
UPRIGHT = {"vertical": "090", "horizontal": "180"}


def numbers(text: str) -> list[str]:
    """The numbers of a text with its places by their one name."""
    text = OTHER_NAME.sub("", text)
    text = re.sub(
        r"(?<=(?:streak|ridian) )(vertical|horizontal)(?: \(\d+\))?", lambda one: UPRIGHT[one[1]], text
    )
    return NUMBER.findall(text)


def texts() -> set[str]:
    """All that is said back, asked and told in the cases of the far view."""
    found: set[str] = set()
    for before, said, _ in CASES:
        session = Session(Settings())
        for line in (*before, said):
            session.type_line(line)
        for event in session.state.events:
            if isinstance(event, Line):
                found |= {*event.replies, *(act.words for act in event.acts)}
                found |= {event.question.text} if event.question else set()
    return found


def test_no_number_is_changed_or_lost() -> None:
    said = texts()

    assert len(said) > 60
    assert sum(brief(text) != text for text in said) > 30
    for text in said:
        assert numbers(brief(text)) == numbers(text), text


@pytest.mark.parametrize(
    ("text", "shorter"),
    [
        (
            "right eye: streak vertical (power along 180) neutral, sphere -3.00, instead of +3.00",
            "R streak 090 neutral -3.00, was +3.00",
        ),
        ("left eye: meridian 105 (streak 015) with, sphere +3.00, cylinder -0.50 axis 015", "L meridian 105 with +3.00 -0.50 x 015"),
        ("moved to the left eye: left eye in hand", "moved to the left eye: left eye in hand"),
        ("instead of -2.75", "was -2.75"),
    ],
)  # fmt: skip
def test_what_becomes_of_a_text(text: str, shorter: str) -> None:
    assert brief(text) == shorter
