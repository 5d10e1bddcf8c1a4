"""What is drawn of an eye: lines at their true angles, as the examiner sees them (180 to the left, 90 upwards).

Coordinates are those of a picture 240 wide and 200 high with the pupil in its middle; y points down.
"""

import math
from dataclasses import dataclass
from typing import Final

from voicelog.exam.eye_state import EyeState
from voicelog.exam.pass_state import TakenReading, Writing
from voicelog.optics import meridian_to_streak_deg, written_axis

WIDTH: Final = 240
HEIGHT: Final = 200
RING: Final = 58.0
_X: Final = WIDTH / 2
_Y: Final = HEIGHT / 2
_LABEL: Final = (89.0, 79.0)  # numbers are wider than high, so they stand on an ellipse
_TICK_STEP_DEG: Final = 10


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line, its two ends rounded to tenths."""

    x1: float
    y1: float
    x2: float
    y2: float


@dataclass(frozen=True, slots=True)
class Arm:
    """One meridian of power: its line, and where its labels stand."""

    line: Stroke
    power: str
    angle: str
    x: float
    y: float
    neutral: bool


@dataclass(frozen=True, slots=True)
class Sight:
    """The streak in hand (a band) and the sweep across it (an arrow), with the heads of the arrow as points."""

    streak: Stroke
    sweep: Stroke
    heads: tuple[str, str]


@dataclass(frozen=True, slots=True)
class Cross:
    """An eye's drawing; `powers` says whether its powers are net or gross, `says` is all of it in words."""

    arms: tuple[Arm, ...]
    sight: Sight | None
    powers: str
    says: str


def _at(angle_deg: float, radius: float, high: float | None = None) -> tuple[float, float]:
    x = _X + radius * math.cos(math.radians(angle_deg))
    y = _Y - (radius if high is None else high) * math.sin(math.radians(angle_deg))
    return round(x, 1), round(y, 1)


TICKS: Final = tuple(
    Stroke(*_at(angle, RING), *_at(angle, RING - (7.0 if angle % 30 == 0 else 4.0)))
    for angle in range(0, 360, _TICK_STEP_DEG)
)


def cross(eye: EyeState, *, now: bool) -> Cross:
    """The power cross of a solved eye, or the meridians read so far; `now`: with the streak in hand.

    Powers are net as soon as the working distance is known; a meridian that is not neutral yet has none.
    """
    net = eye.solution.net
    if net is not None:
        what = "net"
        arms = tuple(_arm(angle, eye.writing.power_words(power), True) for angle, power in net.power_cross())
    else:
        what = "gross" if any(each.net_d is None for each in eye.neutral) else "net"
        arms = tuple(_read(each, what, eye.writing) for each in _standing(eye))
    listed = ", ".join(f"{arm.power or 'not neutral'} along {arm.angle}" for arm in arms)
    says = f"{what}: {listed}" if arms else "nothing read yet"
    sight = _sight(eye.meridian_deg) if now and eye.meridian_deg is not None else None
    return Cross(arms, sight, what if any(arm.power for arm in arms) else "", says)


def _standing(eye: EyeState) -> list[TakenReading]:
    """Of each meridian the neutral reading that stands, else its last look."""
    superseded = {each.id for each in eye.in_hand.superseded}
    last = {each.meridian_deg: each for each in eye.readings if each.id not in superseded}
    return list((last | {each.meridian_deg: each for each in eye.neutral}).values())


def _read(reading: TakenReading, what: str, writing: Writing) -> Arm:
    if reading.motion != "neutral":
        return _arm(reading.meridian_deg, "", False)
    if what == "gross" or reading.net_d is None:
        return _arm(reading.meridian_deg, writing.gross_words(reading.gross_d), True)
    return _arm(reading.meridian_deg, writing.power_words(reading.net_d), True)


def _arm(meridian_deg: float, power: str, neutral: bool) -> Arm:
    x, y = _at(meridian_deg, *_LABEL)
    return Arm(
        _through(meridian_deg, RING), power, written_axis(meridian_deg), x, _within(y, 16.0, 18.0), neutral
    )


def _sight(meridian_deg: float) -> Sight:
    sweep = _through(meridian_deg, 36.0)
    return Sight(
        _through(float(meridian_to_streak_deg(meridian_deg)), 47.0),
        sweep,
        (_head(meridian_deg, 36.0), _head(meridian_deg + 180.0, 36.0)),
    )


def _through(angle_deg: float, radius: float) -> Stroke:
    return Stroke(*_at(angle_deg + 180.0, radius), *_at(angle_deg, radius))


def _head(angle_deg: float, radius: float) -> str:
    tip, left, right = (
        _at(angle_deg, radius + 8.0),
        _at(angle_deg + 9.0, radius - 1.0),
        _at(angle_deg - 9.0, radius - 1.0),
    )
    return " ".join(f"{x},{y}" for x, y in (tip, left, right))


def _within(y: float, top: float, bottom: float) -> float:
    return min(HEIGHT - bottom, max(top, y))
