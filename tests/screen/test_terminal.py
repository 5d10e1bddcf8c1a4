"""The terminal screen, and the pictures of it in the documents."""

import io
import math

import pytest
from rich.console import Console

from tests.exam.typing import typed
from voicelog.optics import SpheroCylinder
from voicelog.screen.cross import power_cross
from voicelog.screen.terminal import CAUTION, print_result, screen


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


def test_further_findings_stand_in_a_block_of_their_own() -> None:
    text = shown(
        "right eye\nacuity unaided six nine\nrefined minus one\nleft eye\nspectacles sphere -2 cylinder -1 x 90\n"
        "acuity both aided twenty twenty\nvertex 12\npupils distance 63"
    )

    for part in (
        "further findings",
        "right eye acuity unaided 6/9 subjective -1.00 DS",
        "left eye spectacles worn -2.00 -1.00 x 090",
        "both eyes acuity with spectacles worn 20/20",
        "pupillary distance, far, 63 mm",
    ):
        assert part in text
    assert "further findings" not in shown("right eye\nstreak 90 with")


def test_what_is_missing_stands_at_the_end() -> None:
    console = Console(width=120, record=True, file=io.StringIO())
    print_result(console, typed("right eye\nworking distance 50\nstreak 90 neutral at +1\nsphere 2")[1])
    missing = [line for line in console.export_text().splitlines() if line.startswith("missing: ")]

    assert missing == [
        "missing: asked: 2.00: plus or minus?",
        "missing: right eye: the 90 meridian is missing; only 180 was measured",
        "missing: left eye: nothing read yet",
    ]


def test_drops_are_shown_with_the_usual_cautions_and_no_dose() -> None:
    text = shown("drops tropicamide both eyes")

    assert "drops tropicamide, at " in text
    assert "usual practice is to note agent, strength, eye and time" in text
    assert "%" not in text
    assert "usual practice" not in shown("right eye")


def test_acuity_is_shown_in_the_notation_of_the_settings() -> None:
    console = Console(width=120, record=True, file=io.StringIO())
    state = typed("right eye\nacuity unaided six nine\nacuity aided counting fingers")[1]
    console.print(screen(state, notation="logmar"))
    text = " ".join(console.export_text().split())

    assert "acuity unaided logMAR 0.18 acuity with spectacles worn counting fingers" in text


def test_passes_are_shown_with_their_mean() -> None:
    lines = (
        "right eye\nworking distance 50\nstreak 90 neutral at +1\nstreak 180 neutral at +0.5\nnext pass\n"
        "streak 90 neutral at +1.5\nstreak 180 neutral at +0.5"
    )
    text = shown(lines)

    for part in (
        "pass 1: -1.00 -0.50 x 180",
        "pass 2: -0.50 -1.00 x 180",
        "mean of 2 passes: -0.75 -0.75 x 180",
        "at most 0.35 D apart",
    ):
        assert part in text
    assert "pass 3: no reading yet" in shown(f"{lines}\nnext pass")
    assert "mean of" not in shown("right eye\nstreak 90 with")


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
