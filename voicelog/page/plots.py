"""Plots of the review: power along the meridian with readings, fit and bounds; the lenses tried, closing on neutral.

Plain geometry in a picture 360 wide and 200 high; the templates draw it.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from voicelog.exam.advising import belief_of, is_net
from voicelog.exam.eye_state import EyeState
from voicelog.exam.pass_state import TakenReading
from voicelog.optics import Uncertainty, written_axis, written_power
from voicelog.screen.eyes import estimate_words

WIDTH: Final = 360
HEIGHT: Final = 200
LEFT, _RIGHT, _TOP, _BOTTOM = 46.0, 12.0, 12.0, 28.0
RIGHT_EDGE: Final = WIDTH - _RIGHT
_STEPS_D: Final = (0.25, 0.5, 1.0, 2.0, 5.0, 10.0)
_MOST_TICKS: Final = 7
_COVERAGE: Final = 2.0  # standard deviations: about 95 %
_LOOK_ANGLES: Final = tuple(range(0, 181, 6))


@dataclass(frozen=True, slots=True)
class Tick:
    """A mark on an axis: where, and what stands there."""

    at: float
    text: str


@dataclass(frozen=True, slots=True)
class Sign:
    """One reading. `shape` is "neutral", "superseded" (a neutral whose place a later one took), "up" (the neutral lens
    is more plus) or "down"; `says` is it in words."""

    x: float
    y: float
    shape: str
    says: str


@dataclass(frozen=True, slots=True)
class Bracket:
    """What the motions leave open in one meridian: from `top` to `bottom`, either open where nothing bounds it."""

    x: float
    top: float
    bottom: float
    open_top: bool
    open_bottom: bool


@dataclass(frozen=True, slots=True)
class Trail:
    """The lenses tried in one meridian, as a line with the meridian's name at its end."""

    line: str
    name: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Plot:
    """A plot; `curve` and `band` are SVG paths, empty where nothing is determined. `says` is what it shows."""

    says: str
    x_ticks: tuple[Tick, ...]
    y_ticks: tuple[Tick, ...]
    signs: tuple[Sign, ...]
    curve: str = ""
    band: str = ""
    looks: str = ""
    """The middle 95 % of what all looks say together: two lines."""
    brackets: tuple[Bracket, ...] = ()
    trails: tuple[Trail, ...] = ()


def meridian_plot(eye: EyeState, name: str) -> Plot | None:
    """Net power along the meridians 0 to 180 degrees; None without a reading whose net power is known."""
    known = [each for each in eye.readings if each.net_d is not None]
    if not known:
        return None
    vector, spread = eye.solution.vector, eye.solution.uncertainty
    angles = range(0, 181, 3)
    fit = [vector.power_along_d(angle or 180) for angle in angles] if vector else []
    half = [_COVERAGE * _sd_along_d(spread, angle) for angle in angles] if spread and vector else []
    band = [f + s * h for s in (1, -1) for f, h in zip(fit, half, strict=True)] if half else []
    looks = _all_looks(eye)
    y = scale([each.net_d or 0.0 for each in known] + fit + band + [edge for pair in looks for edge in pair])
    x = x_of(0.0, 180.0)
    return Plot(
        says=f"{name} eye, net power along the meridian: "
        + "; ".join(_in_words(each, eye) for each in known),
        x_ticks=tuple(Tick(x(angle), str(angle)) for angle in range(0, 181, 30)),
        y_ticks=y.ticks,
        signs=tuple(_sign(each, eye, x(each.meridian_deg), y.at(each.net_d or 0.0)) for each in known),
        curve=line([(x(angle), y.at(power)) for angle, power in zip(angles, fit, strict=True)])
        if fit
        else "",
        band=_band(angles, fit, half, x, y.at) if half else "",
        looks="".join(
            line([(x(angle), y.at(power)) for angle, power in zip(_LOOK_ANGLES, edge, strict=True)])
            for edge in zip(*looks, strict=True)
        ),
        brackets=tuple(_brackets(eye, x, y)),
    )


def _all_looks(eye: EyeState) -> list[tuple[float, float]]:
    """The middle 95 % of net power along each of `_LOOK_ANGLES`, by every look; empty where they are not shown."""
    if not estimate_words(eye) or not is_net(eye):
        return []
    belief = belief_of(eye)
    return [belief.interval_d(angle or 180) for angle in _LOOK_ANGLES]


def sequence_plot(eye: EyeState, name: str) -> Plot | None:
    """Gross power of the lenses tried, in the order of the readings; None without readings."""
    readings = eye.readings
    if not readings:
        return None
    y = scale([each.gross_d for each in readings])
    x = x_of(0.5, len(readings) + 0.5)
    placed = [(each, x(order), y.at(each.gross_d)) for order, each in enumerate(readings, start=1)]
    return Plot(
        says=f"{name} eye, lenses tried in order: " + "; ".join(_in_words(each, eye) for each in readings),
        x_ticks=tuple(Tick(x(order), str(order)) for order in range(1, len(readings) + 1)),
        y_ticks=y.ticks,
        signs=tuple(_sign(each, eye, px, py) for each, px, py in placed),
        trails=tuple(_trails(placed)),
    )


def _trails(placed: Sequence[tuple[TakenReading, float, float]]) -> list[Trail]:
    meridians = dict.fromkeys(each.meridian_deg for each, _, _ in placed)
    found = []
    for meridian in meridians:
        points = [(x, y) for each, x, y in placed if each.meridian_deg == meridian]
        x, y = points[-1]
        found.append(Trail(line(points), written_axis(meridian), x + 8.0, y + 4.0))
    return found


def _brackets(eye: EyeState, x: Callable[[float], float], y: "Scale") -> list[Bracket]:
    found = []
    for seen in eye.solution.found.meridians:
        if seen.lower_d is None and seen.upper_d is None:
            continue
        # Bounds are of the lenses held; the plot shows net powers.
        upper_d, lower_d = (
            None if bound is None else bound - eye.solution.allowance_d
            for bound in (seen.upper_d, seen.lower_d)
        )
        top = _TOP if upper_d is None else y.at(upper_d)
        bottom = HEIGHT - _BOTTOM if lower_d is None else y.at(lower_d)
        found.append(Bracket(x(seen.meridian_deg), top, bottom, upper_d is None, lower_d is None))
    return found


def _sign(reading: TakenReading, eye: EyeState, x: float, y: float) -> Sign:
    if reading.motion != "neutral":
        up = (reading.motion == "with") != (reading.entry.mirror == "concave")
        return Sign(x, y, "up" if up else "down", _in_words(reading, eye))
    if any(each.id == reading.id for each in eye.in_hand.superseded):
        return Sign(x, y, "superseded", f"superseded: {_in_words(reading, eye)}")
    return Sign(x, y, "neutral", _in_words(reading, eye))


def _in_words(reading: TakenReading, eye: EyeState) -> str:
    net = "" if reading.net_d is None else f", net {_zero(eye.writing.power_words(reading.net_d))}"
    lens = f"{_zero(eye.writing.gross_words(reading.gross_d))} gross{net}"
    return f"{reading.motion} at {lens} along {written_axis(reading.meridian_deg)}"


def _sd_along_d(spread: Uncertainty, angle_deg: float) -> float:
    """Standard deviation of the fitted power along a meridian, dioptres: v C v with v = (1, cos 2t, sin 2t)."""
    t = math.radians(2.0 * angle_deg)
    v = (1.0, math.cos(t), math.sin(t))
    variance = sum(v[i] * spread.covariance[i][j] * v[j] for i in range(3) for j in range(3))
    return math.sqrt(max(0.0, variance))


@dataclass(frozen=True, slots=True)
class Scale:
    """Powers as heights in the picture, with marks at round powers."""

    low_d: float
    high_d: float
    ticks: tuple[Tick, ...]
    marks_d: tuple[float, ...]

    def at(self, power_d: float) -> float:
        """Height of a power."""
        return _height(power_d, self.low_d, self.high_d)


def scale(powers_d: Sequence[float]) -> Scale:
    """From a little below the least to a little above the most, with round marks."""
    low, high = min(powers_d) - 0.25, max(powers_d) + 0.25
    step = next((each for each in _STEPS_D if (high - low) / each <= _MOST_TICKS), _STEPS_D[-1])
    marks = range(math.ceil(low / step), math.floor(high / step) + 1)
    marks_d = tuple(mark * step for mark in marks)
    ticks = tuple(Tick(_height(mark, low, high), _signed(mark)) for mark in marks_d)
    return Scale(low, high, ticks, marks_d)


def _signed(power_d: float) -> str:
    return _zero(written_power(power_d))


def _zero(text: str) -> str:
    return "0.00" if text == "plano" else text


def _height(power_d: float, low_d: float, high_d: float) -> float:
    share = (power_d - low_d) / (high_d - low_d)
    return round(HEIGHT - _BOTTOM - share * (HEIGHT - _TOP - _BOTTOM), 1)


def x_of(low: float, high: float) -> Callable[[float], float]:
    """Where along the picture a value from `low` to `high` stands."""
    return lambda value: round(LEFT + (value - low) / (high - low) * (WIDTH - LEFT - _RIGHT), 1)


def line(points: Sequence[tuple[float, float]]) -> str:
    """An SVG path through points."""
    return "M" + " L".join(f"{x:g} {y:g}" for x, y in points)


def _band(
    angles: Sequence[int],
    fit: Sequence[float],
    half: Sequence[float],
    x: Callable[[float], float],
    y: Callable[[float], float],
) -> str:
    upper = [(x(a), y(f + h)) for a, f, h in zip(angles, fit, half, strict=True)]
    lower = [(x(a), y(f - h)) for a, f, h in zip(angles, fit, half, strict=True)]
    return f"{line([*upper, *reversed(lower)])} Z"
