"""The terminal screen, and the pictures of it in the documents."""

import io
import math

import pytest
from rich.console import Console

from tests.exam.typing import typed
from voicelog.optics import SpheroCylinder
from voicelog.screen.cross import power_cross
from voicelog.screen.terminal import CAUTION, screen


def shown(lines: str) -> str:
    """The screen as plain text, spaces folded."""
    console = Console(width=120, record=True, file=io.StringIO())
    console.print(screen(typed(lines)[1], rows=50))
    return " ".join(console.export_text().split())


def test_what_is_known_is_on_the_screen() -> None:
    text = shown(
        "right eye\nworking distance 50\nstreak 90 neutral at +3\nstreak 180 neutral at 1\nplus\n"
        "look up\nscratch that\nstreak 180 neutral at +1.50"
    )

    for part in (
        "a bare direction names the streak",
        "working distance 50 cm",
        "right eye ◀ now",
        "090 180 neutral +3.00 +1.00",
        "+1.00 -1.50 x 180",
        "+1.00 along 180",
        "-0.50 along 090",
        "nothing read yet",
        "1.00: plus or minus?",
        CAUTION,
    ):
        assert part in text


def test_an_open_question_and_a_contradiction_are_shown() -> None:
    text = shown("right eye\nworking distance 67\nstreak 90 with at +3.50\nstreak 90 neutral at +3\nsphere 2")

    assert "asked: 2.00: plus or minus?" in text
    assert "! with motion at +3.50" in text
    assert "conflict" in text


@pytest.mark.parametrize("axis_deg", [20, 45, 90, 110, 160, 180])
def test_the_cross_is_drawn_at_its_true_angles(axis_deg: int) -> None:
    """The lit dots, turned back by the axis, all lie near one of the two lines."""
    rows = power_cross(SpheroCylinder(1.0, -2.0, axis_deg)).plain.splitlines()
    dots = [
        (2 * column + dx - 9, 9 - (4 * row + dy))
        for row, text in enumerate(rows)
        for column, char in enumerate(text[:10])
        for dx, bits in enumerate(((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80)))
        for dy, bit in enumerate(bits)
        if (ord(char) - 0x2800) & bit
    ]
    angle = math.radians(axis_deg)
    off = [
        min(abs(x * math.sin(angle) - y * math.cos(angle)), abs(x * math.cos(angle) + y * math.sin(angle)))
        for x, y in dots
    ]

    assert len(dots) > 20
    assert max(off) <= math.sqrt(0.5) + 1e-9  # half the diagonal between dots
