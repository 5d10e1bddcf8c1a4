"""Tells a reflex's motion from pictures alone: where the streak is, where the pupil is, and the optical flow in it.

Nothing of the optics comes in here. What moves as one picture does, I(s - v t), has I_t = -v I_s (Horn and Schunck,
Artificial Intelligence 1981;17:185-203); with the streak's place instead of the time, v is the speed against the streak.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Numbers = npt.NDArray[np.float64]

# What a red pupil and a white streak look like.
STREAK_BLUE_SHARE: Final = 0.55
PUPIL_BLUE_SHARE: Final = 0.4
FAINTEST: Final = 12.0
BRIGHT: Final = 60.0
INNER: Final = 0.6
"""Share of the pupil's radius that is looked at: teaching says to go by the middle."""
LEAST_CHANGE: Final = 3.0
LEAST_STREAK_PIXELS: Final = 12
NEUTRAL_SPEED: Final = 8.0
"""Faster than this many times the streak, it cannot be told which way."""


@dataclass(frozen=True)
class Seen:
    """`speed` of the reflex against the streak, positive where it goes along."""

    speed: float

    @property
    def motion(self) -> str:
        """Which way it goes, in the trade's words."""
        if abs(self.speed) >= NEUTRAL_SPEED:
            return "neutral"
        return "with" if self.speed > 0 else "against"


def observed(pictures: npt.NDArray[np.uint8]) -> Seen:
    """Look at pictures of one sweep, shape (time, rows, columns, 3)."""
    shown = pictures.astype(float)
    rows, columns = np.indices(shown.shape[1:3]).astype(float)
    angle, places, visible = _streak(shown, rows, columns)
    pupil = _pupil(shown)
    middle_row, middle_column = rows[pupil].mean(), columns[pupil].mean()
    inner_px = INNER * np.sqrt(pupil.sum() / np.pi)
    inner = np.hypot(rows - middle_row, columns - middle_column) < inner_px
    light = _smooth(shown[visible, :, :, 0])
    down, right = np.gradient(light, axis=(1, 2))
    along = (right * np.cos(angle) + down * np.sin(angle))[:, inner]
    light, there = light[:, inner], places[visible]
    step = np.diff(there)[:, None]
    by_streak = np.diff(light, axis=0) / step
    by_place = (along[1:] + along[:-1]) / 2.0
    changing = np.abs(by_streak) * np.abs(step) > LEAST_CHANGE  # the rest is the camera's noise
    slowness = -np.sum((by_streak * by_place)[changing]) / np.sum(by_streak[changing] ** 2)
    return Seen(1.0 / slowness if slowness else np.inf)


def _streak(shown: Numbers, rows: Numbers, columns: Numbers) -> tuple[float, Numbers, npt.NDArray[np.bool_]]:
    """Direction of the sweep (radians, rows downwards), the streak's place in each picture, and where it is in sight."""
    blue, red = shown[..., 2], shown[..., 0]
    white = (red > BRIGHT) & (blue > STREAK_BLUE_SHARE * red)
    weight = np.where(white, red, 0.0)
    spread = np.zeros((2, 2))
    for each in weight[white.sum(axis=(1, 2)) >= LEAST_STREAK_PIXELS]:
        at = each > 0
        points = np.stack([columns[at], rows[at]])
        spread += np.cov(points, aweights=each[at])
    values, ways = np.linalg.eigh(spread)
    across = ways[:, int(np.argmin(values))]
    place = columns * across[0] + rows * across[1]
    total = weight.sum(axis=(1, 2))
    visible = white.sum(axis=(1, 2)) >= LEAST_STREAK_PIXELS
    places = (weight * place).sum(axis=(1, 2)) / np.where(total > 0, total, 1.0)
    # A streak that is half out of sight is nearer to the middle than it is: leave the last pictures out.
    inside = visible & np.roll(visible, 1) & np.roll(visible, -1)
    return float(np.arctan2(across[1], across[0])), places, inside


def _pupil(shown: Numbers) -> npt.NDArray[np.bool_]:
    """Pixels that at their brightest are red."""
    brightest = shown[..., 0].argmax(axis=0)[None, ..., None]
    at_best = np.take_along_axis(shown, brightest, axis=0)[0]
    found: npt.NDArray[np.bool_] = (at_best[..., 0] > FAINTEST) & (
        at_best[..., 2] < PUPIL_BLUE_SHARE * at_best[..., 0]
    )
    return found


def _smooth(light: Numbers) -> Numbers:
    """Means of three by three pixels."""
    for axis in (1, 2):
        light = (np.roll(light, 1, axis) + light + np.roll(light, -1, axis)) / 3.0
    return light
