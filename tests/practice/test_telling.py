"""The reflex in words and in the terminal's dots; the ways of saying of the scripted examiner."""

import dataclasses
from random import Random

import pytest

from tests.english import ENGLISH, load
from voicelog.measuring.manifests import EXAM_RULES
from voicelog.optics import PowerVector, SpheroCylinder
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader
from voicelog.practice.drawing import arrows, band_offset_mm, drawing
from voicelog.practice.exercise import TECHNIQUES, Exercise
from voicelog.practice.eye import EyeModel
from voicelog.practice.phrasing import said
from voicelog.practice.reflex import Reflex, Retinoscope, reflex
from voicelog.practice.telling import seen, setting, steps
from voicelog.settings import Settings

SCOPE = Retinoscope(0.5)
READER = LineReader(load(), f"{EXAM_RULES} loose_where", Layer.WRITTEN)


def look(power_d: float, streak_deg: float = 90.0, **changes: float) -> Reflex:
    """An eye that is so far from neutral at half a metre."""
    return reflex(PowerVector(power_d - 2.0, 0.0, 0.0), streak_deg, SCOPE, **changes)


@pytest.mark.parametrize(
    ("power_d", "words"),
    [
        (0.0, "no motion"),
        (0.3, "with motion, fast"),
        (1.0, "with motion, brisk"),
        (3.0, "with motion, slow"),
        (8.0, "with motion, very slow"),
        (-3.0, "against motion, slow"),
        (20.0, "hardly moves"),
    ],
)
def test_motion_and_speed_in_words(power_d: float, words: str) -> None:
    assert words in seen(look(power_d), 90.0)


def test_width_brightness_and_turn_in_words() -> None:
    assert "narrow band, bright, in line with the streak" in seen(look(1.5), 90.0)
    assert "wider than the pupil" in seen(look(-3.0), 90.0)
    assert "very dull" in seen(look(1.5, clarity=0.2), 90.0)
    turned = reflex(SpheroCylinder(-1.5, 2.0, 35.0).vector, 60.0, Retinoscope(2 / 3))
    assert "turned 25 degrees clockwise from the streak" in seen(turned, 60.0)
    assert "turned 25 degrees counter-clockwise" in seen(
        reflex(SpheroCylinder(-1.5, 2.0, 85.0).vector, 60.0, Retinoscope(2 / 3)), 60.0
    )
    assert "scissors" in seen(look(0.2, coma_d_per_mm=0.4), 90.0)


@pytest.mark.parametrize(
    ("power_d", "streak_deg", "drawn"),
    [
        (1.0, 90.0, "streak →→  reflex →→→"),
        (-1.0, 90.0, "streak →→  reflex ←←←"),
        (1.0, 180.0, "streak ↑↑  reflex ↑↑↑"),
        (-1.0, 135.0, "streak ↗↗  reflex ↙↙↙"),
        (0.0, 45.0, "streak ↖↖  reflex all at once"),
        (20.0, 90.0, "streak →→  reflex hardly moves"),
    ],
)
def test_arrows_show_the_ways(power_d: float, streak_deg: float, drawn: str) -> None:
    assert arrows(look(power_d, streak_deg), streak_deg) == drawn


def dots(text: str) -> list[list[bool]]:
    """The dots of a drawing in Braille, rows of columns; without the line of arrows."""
    rows = []
    for line in text.splitlines()[:-1]:
        cells = [ord(char) - 0x2800 if char != " " else 0 for char in line.ljust(58)]
        for bits in ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80)):
            rows.append([bool(cell & bit) for cell in cells for bit in bits])
    return rows


def lit_share(text: str, frame: int, side: str) -> float:
    """Share of lit dots in the left or right half of the pupil of one of the three frames."""
    middle = 40 * frame + 17.5
    inside = [
        (row, column)
        for row in range(36)
        for column in range(120)
        if ((row - 17.5) ** 2 + (column - middle) ** 2) ** 0.5 < 9.0
        and (column > middle) == (side == "right")
        and column < 116
    ]
    rows = dots(text)
    return sum(rows[row][column] for row, column in inside) / len(inside)


def test_drawn_with_motion_goes_along_and_against_goes_the_other_way() -> None:
    """The streak goes from left to right; in its last frame the band is on that side, or on the other."""
    for power_d, side, other in ((1.0, "right", "left"), (-1.0, "left", "right")):
        picture = drawing(look(power_d), 90.0).plain
        assert lit_share(picture, 2, side) > 0.8
        assert lit_share(picture, 2, other) < 0.4
        assert lit_share(picture, 0, other) > 0.8


def test_drawn_neutral_lights_up_at_once() -> None:
    picture = drawing(look(0.0), 90.0).plain

    assert lit_share(picture, 1, "left") == lit_share(picture, 1, "right") == 1.0
    assert lit_share(picture, 0, "left") == lit_share(picture, 2, "right") == 0.0


def test_the_band_goes_as_fast_as_the_reflex() -> None:
    seen_now = look(3.0)

    assert band_offset_mm(seen_now, 90.0, 2.0) == pytest.approx(2.0 * seen_now.speed)
    assert band_offset_mm(look(-3.0), 90.0, 2.0) < 0
    assert band_offset_mm(look(20.0), 90.0, 2.0) == 0.0


def test_a_turned_band_is_drawn_turned() -> None:
    upright, turned = (
        drawing(dataclasses.replace(look(1.5), band_deg=band), 90.0).plain for band in (90.0, 45.0)
    )

    assert lit_share(upright, 1, "left") == pytest.approx(lit_share(upright, 1, "right"), abs=0.05)
    assert upright != turned


def test_every_step_tells_phrases_that_the_log_takes() -> None:
    """What stands after a colon in the steps, and is no explanation, can be typed."""
    told = 0
    for technique in TECHNIQUES:
        for naming in ("streak", "meridian"):
            exercise = Exercise(EyeModel(SpheroCylinder(1.0)), 1, lens_in=True, technique=technique)
            for step in steps(exercise, Settings(naming=naming)):
                for sentence in step.split(". "):
                    _, _, examples = sentence.rpartition(": ")
                    for example in examples.rstrip(".").replace(", ", "; ").split("; "):
                        if example.split()[0] in (
                            "streak",
                            "meridian",
                            "sphere",
                            "cylinder",
                            "right",
                            "working",
                        ):
                            assert READER.understand(example).readings, example
                            told += 1
    assert told >= 36


def test_what_is_set_is_told_without_the_refraction() -> None:
    exercise = Exercise(EyeModel(SpheroCylinder(1.25, -1.75, 88.0)), 77, lens_in=True, concave_mirror=True)
    text = " ".join(setting(exercise, Settings(naming="meridian")))

    assert "+1.50 D, in the frame" in text
    assert "concave mirror" in text
    assert "meridian of power" in text
    assert "77" in text
    assert "1.25" not in text
    assert "88" not in text


@pytest.mark.parametrize(
    "line",
    [
        "streak 35 neutral at -1.25",
        "streak vertical neutral with cylinder -1.75 axis 105",
        "meridian 172 neutral with sphere +0.25",
        "35 neutral at +10.50",
        "120 neutral at plano",
        "working distance 67",
    ],
)
def test_a_line_said_in_any_way_means_the_same(line: str) -> None:
    """Checked by the grammar, which reads the words by other rules than the written line."""
    reader = LineReader(load(), EXAM_RULES, Layer.WRITTEN)
    ways = {said(line, Random(seed), ENGLISH) for seed in range(30)}

    assert not any(char.isdigit() for way in ways for char in way)
    for way in ways:
        assert reader.understand(way).readings == reader.understand(line).readings, way
