"""The eye as it is seen in the dark room while the streak sweeps: numbers to pictures."""

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from voicelog.practice.light import Numbers, PupilLight

Picture = npt.NDArray[np.uint8]
"""Rows from the top, columns, red green blue."""

VIEW_MM: Final = 7.0
"""From the middle to the edge of the picture, in the plane of the pupil."""
SWEEP_MM: Final = 12.0
"""How far the streak goes to either side: out of sight, so that a band three dioptres off still gets to the edge of
the pupil. Our own choice, no source."""
IRIS_MM: Final = 5.9
"""Half of what is seen of an iris, 11.8 mm across (from memory)."""
STREAK_SD_MM: Final = 0.7
HALF_SEEN: Final = 0.5
"""Light that looks half as bright as the brightest: the eye's response is compressive, as Naka and Rushton wrote it
(J Physiol 1966; from memory). The number is our own choice."""
GLOW: Final = (255, 122, 51)
STREAK: Final = (255, 226, 176)
ROOM: Final = (5, 6, 7)
IRIS: Final = (26, 20, 17)
IRIS_SHARE: Final = 0.45
"""How bright the streak is on the iris, against the skin."""


def beam_mm(phase: float) -> float:
    """Where the streak is, `phase` of a sweep there and back (0 to 1): in the middle at 0, at an end at a quarter."""
    return SWEEP_MM * math.sin(2.0 * math.pi * phase)


def looks(light: Numbers) -> Numbers:
    """How bright a light looks, 0 to 1; what is as bright as the middle at neutral, or brighter, is 1."""
    found: Numbers = np.minimum(1.0, light / (light + HALF_SEEN) * (1.0 + HALF_SEEN))
    return found


class Drawing:
    """One pupil, drawn wherever the streak is; square pictures of `size_px` pixels a side, x to the right and y up."""

    def __init__(self, light: PupilLight, size_px: int) -> None:
        line = (np.arange(size_px) + 0.5) * (2.0 * VIEW_MM / size_px) - VIEW_MM
        x, y = np.meshgrid(line, -line)
        radius = np.hypot(x, y)
        angle = math.radians(light.streak_deg - 90.0)
        self._light = light
        self._across = x * math.cos(angle) + y * math.sin(angle)
        iris = radius < IRIS_MM
        self._dark = np.where(iris[..., None], IRIS, ROOM).astype(float)
        self._lit = (np.array(STREAK) - self._dark) * np.where(iris, IRIS_SHARE, 1.0)[..., None]
        self._pupil = radius < light.pupil_mm / 2.0
        self._field = light.field_mrad(x[self._pupil], y[self._pupil])

    def at(self, streak_mm: float) -> Picture:
        """Skin, iris and pupil, and what of the streak falls on them."""
        on_face = np.exp(-0.5 * ((self._across - streak_mm) / STREAK_SD_MM) ** 2)
        picture = self._dark + self._lit * on_face[..., None]
        picture[self._pupil] = np.array(GLOW) * looks(self._light.seen(streak_mm, self._field))[:, None]
        found: Picture = np.round(picture).astype(np.uint8)
        return found

    def sweep(self, pictures: int) -> Picture:
        """So many pictures of one sweep from end to end, shape (pictures, size, size, 3)."""
        return np.stack([self.at(beam_mm(phase)) for phase in np.linspace(-0.25, 0.25, pictures)])
