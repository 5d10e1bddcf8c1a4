"""Rays traced through a thin reduced eye, one by one: another way to what `voicelog.practice.reflex` computes.

Lengths in metres, the lens plane at z = 0, light towards the eye goes to positive z. The eye is one thin lens of 60 D
less what it needs, with the retina at 1/60 m in air. Nothing here uses vergences of far points or magnifications.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Vectors = npt.NDArray[np.float64]
EYE_D = 60.0


@dataclass(frozen=True)
class Setup:
    """Power matrix that the eye needs (2 by 2, dioptres), retinoscope and source distances before it, streak's angle."""

    needed: Vectors
    scope_m: float
    source_m: float
    streak_deg: float

    @property
    def along(self) -> Vectors:
        """Unit vector of the sweep."""
        angle = np.radians(self.streak_deg - 90.0)
        return np.array([np.cos(angle), np.sin(angle)])

    @property
    def line(self) -> Vectors:
        """Unit vector of the streak."""
        angle = np.radians(self.streak_deg)
        return np.array([np.cos(angle), np.sin(angle)])


def to_retina(setup: Setup, start: Vectors, start_m: float, at_lens: Vectors) -> Vectors:
    """Where rays from points at `start_m` before the lens through points of the lens meet the retina; shape (n, 2)."""
    slopes = (at_lens - start) / start_m
    power = EYE_D * np.eye(2) - setup.needed
    refracted = slopes - at_lens @ power.T
    return at_lens + refracted / EYE_D


def source_points(setup: Setup, beam_m: float, count: int = 200) -> Vectors:
    """Points of the line source when the beam's middle has moved by `beam_m` along the sweep on the face.

    The beam's middle goes through the middle of the mirror, which does not move, so the source appears beyond it.
    """
    middle = beam_m * setup.along * (1.0 - setup.source_m / setup.scope_m)
    lengths = np.linspace(-0.02, 0.02, count) * setup.source_m
    return middle + lengths[:, None] * setup.line


def band_middle_line(setup: Setup, beam_m: float) -> tuple[Vectors, Vectors]:
    """Two pupil points that show the middle of the lit retinal line: they lie on the middle of the band.

    The lit line is found by rays through the middle of the lens; then, for each of two of its points, the pupil point
    whose ray from the peephole comes there (the trace is linear, so three rays give the map and solving inverts it).
    """
    points = source_points(setup, beam_m)
    lit = to_retina(setup, points, setup.source_m, np.zeros_like(points))
    probes = np.array([[0.0, 0.0], [1e-3, 0.0], [0.0, 1e-3]])
    seen = to_retina(setup, np.zeros_like(probes), setup.scope_m, probes)
    columns = ((seen[1:] - seen[0]) / 1e-3).T
    first, second = (np.linalg.solve(columns, point - seen[0]) for point in (lit[0], lit[-1]))
    return first, second


def band_width_mm(
    setup: Setup, *, source_rad: float, peephole_m: float, pupil_m: float, count: int = 721
) -> float:
    """Width of the band by brute force: which points of a long line across it show lit retina through the peephole."""
    angles = np.linspace(0.0, 2.0 * np.pi, count)
    rim = np.stack([np.cos(angles), np.sin(angles)], axis=1)
    edges = []
    for side in (-0.5, 0.5):
        start = np.broadcast_to(side * source_rad * setup.source_m * setup.along, rim.shape)
        edges.append(to_retina(setup, start, setup.source_m, rim * pupil_m / 2.0) @ setup.along)
    lowest, highest = np.min(edges), np.max(edges)
    first, second = band_middle_line(setup, 0.0)
    direction = (second - first) / np.linalg.norm(second - first)
    normal = np.array([-direction[1], direction[0]])
    places = np.linspace(-0.1, 0.1, 10_001)
    at_lens = places[:, None] * normal
    lit = np.zeros(places.shape, bool)
    for point in rim[::15] * peephole_m:
        start = np.broadcast_to(point, at_lens.shape)
        seen = to_retina(setup, start, setup.scope_m, at_lens) @ setup.along
        lit |= (seen >= lowest) & (seen <= highest)
    return float(places[lit].max() - places[lit].min()) * 1e3
