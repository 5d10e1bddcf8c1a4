"""The reflex drawn in a terminal: the streak before, in and behind the middle, and where the band is each time."""

import math
from dataclasses import dataclass
from typing import Final

from rich.text import Text

from voicelog.practice.reflex import Reflex

_ROWS: Final = 9
_COLUMNS: Final = 18
# A braille character holds 2 by 4 dots, which stand about equally far apart both ways.
_DOTS: Final = ((0x01, 0x02, 0x04, 0x40), (0x08, 0x10, 0x20, 0x80))
_PUPIL_DOTS: Final = 11.0
_STREAK_DOTS: Final = 17.0
_GAP: Final = "  "
_LARGEST_SWEEP_MM: Final = 12.0
_SMALLEST_SWEEP_MM: Final = 0.5
# Where the arrow points that stands for a sweep at right angles to the streak, by the sweep's direction.
_ARROWS: Final = ("→", "↗", "↑", "↖")
_BACK: Final = {"→": "←", "↗": "↙", "↑": "↓", "↖": "↘"}
_MOST_ARROWS: Final = 5


def drawing(reflex: Reflex, streak_deg: float, *, told: bool = True) -> Text:
    """Three pupils side by side while the streak sweeps over them, angles as the examiner sees them.

    `told`: arrows below say which way streak and reflex go.
    """
    sweep_mm = _sweep_mm(reflex)
    frames = [_frame(reflex, streak_deg, place * sweep_mm) for place in (-1.0, 0.0, 1.0)]
    style = "bold red" if reflex.brightness >= 0.55 else "red" if reflex.brightness >= 0.3 else "dim red"
    picture = Text("\n".join(_GAP.join(rows).rstrip() for rows in zip(*frames, strict=True)), style=style)
    if not told:
        return picture
    return picture.append(f"\n{arrows(reflex, streak_deg)}", style="bold")


def arrows(reflex: Reflex, streak_deg: float) -> str:
    """The ways of streak and reflex; more arrows for a faster reflex: "streak →→  reflex →→→"."""
    sweep = _ARROWS[round(((streak_deg - 90.0) % 180.0) / 45.0) % 4]
    if reflex.motion in ("neutral", "still"):
        return f"streak {sweep * 2}  reflex {'all at once' if reflex.motion == 'neutral' else 'hardly moves'}"
    way = sweep if reflex.motion == "with" else _BACK[sweep]
    count = min(_MOST_ARROWS, max(1, round(2.0 + math.log2(reflex.speed))))
    return f"streak {sweep * 2}  reflex {way * count}"


def band_offset_mm(reflex: Reflex, streak_deg: float, streak_offset_mm: float) -> float:
    """Where the band stands, along its own normal, when the streak is off the middle by that much."""
    if reflex.band_deg is None:
        return streak_offset_mm * (0.0 if reflex.motion == "still" else 1e3)
    skew = math.cos(math.radians(reflex.band_deg - streak_deg))
    return (1.0 if reflex.motion == "with" else -1.0) * streak_offset_mm * reflex.speed * skew


def _sweep_mm(reflex: Reflex) -> float:
    """How far the streak is from the middle when the edge of the band has come to the middle of the pupil."""
    if not math.isfinite(reflex.speed) or reflex.speed == 0.0:
        return _SMALLEST_SWEEP_MM
    half_mm = min(reflex.bright_mm, 2.0 * reflex.pupil_mm) / 2.0
    return min(_LARGEST_SWEEP_MM, max(_SMALLEST_SWEEP_MM, half_mm / reflex.speed))


@dataclass(frozen=True, slots=True)
class _Scene:
    """What is drawn, in dots from the middle."""

    streak_deg: float
    streak_at: float
    band_deg: float
    band_at: tuple[float, ...]
    half_width: float


def _frame(reflex: Reflex, streak_deg: float, streak_mm: float) -> list[str]:
    scale = 2.0 * _PUPIL_DOTS / reflex.pupil_mm
    first = band_offset_mm(reflex, streak_deg, streak_mm) * scale
    second = () if reflex.second_mm is None else (reflex.second_mm * scale - first,)
    band = streak_deg if reflex.band_deg is None else reflex.band_deg
    half = max(0.8, min(reflex.bright_mm, 2.0 * reflex.pupil_mm) * scale / 2.0)
    streak = max(
        -_STREAK_DOTS + 2.0, min(_STREAK_DOTS - 2.0, streak_mm * scale)
    )  # else it would be out of the picture
    scene = _Scene(streak_deg, streak, band, (first, *second), half)
    cells = [[0] * _COLUMNS for _ in range(_ROWS)]
    for row in range(4 * _ROWS):
        for column in range(2 * _COLUMNS):
            x, y = column - (2 * _COLUMNS - 1) / 2.0, (4 * _ROWS - 1) / 2.0 - row
            if _lit(scene, x, y):
                cells[row // 4][column // 2] |= _DOTS[column % 2][row % 4]
    return ["".join(chr(0x2800 + cell) for cell in row) for row in cells]


def _lit(scene: _Scene, x: float, y: float) -> bool:
    """Whether a dot at (x, y), right and up from the middle, belongs to pupil edge, band or streak."""
    radius = math.hypot(x, y)
    if abs(radius - _PUPIL_DOTS) < 0.5:
        return True
    if radius > _PUPIL_DOTS + 1.0:
        return radius <= _STREAK_DOTS and abs(_across(x, y, scene.streak_deg) - scene.streak_at) < 0.8
    if radius > _PUPIL_DOTS - 1.5:
        return False
    across = _across(x, y, scene.band_deg)
    return any(abs(across - at) < scene.half_width for at in scene.band_at)


def _across(x: float, y: float, line_deg: float) -> float:
    """How far a point lies from the line through the middle at an angle, on the side of its meridian (angle - 90)."""
    angle = math.radians(line_deg)
    return x * math.sin(angle) - y * math.cos(angle)
