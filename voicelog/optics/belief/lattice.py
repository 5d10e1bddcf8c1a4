"""Where an eye may be: a lattice over (M, J0, J45) that grows finer where the looks leave it room.

Coarse cells are judged by evidence blurred to their width, so that a narrow peak between their middles is not missed;
cells that matter are cut in eight, until a cell is no wider than the narrowest direction of what is left, or until they
are too many (a look or two leave so much room that the width of a cell is small beside it). A sum over a
lattice no coarser than the standard deviation is right to far beyond what is shown (the error of the trapezoid rule for
a normal density with steps of one standard deviation is 2 exp(-2 pi^2)).
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np

from voicelog.optics.belief.answers import Array

_COARSEST_D: Final = 1.0
_FINEST_D: Final = 1.0 / 64.0
_M_REACH_D: Final = 26.0
_J_REACH_D: Final = 7.0
_MOST_CELLS: Final = 12_000
_DENSE_LOG: Final = -7.0
"""Cells with less than a thousandth of the largest density stay as they are: the far tails that slips leave."""
_EMPTY_LOG: Final = -23.0
_LEFT_OUT: Final = 1e-4
"""Share of the whole that may be dropped."""
_CORNERS = np.array([(x, y, z) for x in (-0.5, 0.5) for y in (-0.5, 0.5) for z in (-0.5, 0.5)]).T


@dataclass(frozen=True, slots=True)
class Lattice:
    """Points, shape (3, n), dioptres; their n weights (sum 1); and the width of each one's cell, n values, dioptres."""

    points: Array
    weights: Array
    cells_d: Array

    @property
    def log_densities(self) -> Array:
        """Log density at each point (n values), up to a constant."""
        density: Array = np.log(np.maximum(self.weights, 1e-300)) - 3.0 * np.log(self.cells_d)
        return density


@lru_cache(maxsize=1)
def _whole() -> Array:
    m = np.arange(-_M_REACH_D, _M_REACH_D + 0.5, _COARSEST_D)
    j = np.arange(-_J_REACH_D, _J_REACH_D + 0.5, _COARSEST_D)
    return np.stack(np.meshgrid(m, j, j, indexing="ij")).reshape(3, -1)


def cover(log_density: Callable[[Array, float], Array]) -> Lattice:
    """The lattice for a density, given as a function of points, shape (3, n), and a cell's width: n log values."""
    points, cell = _whole(), _COARSEST_D
    left: list[tuple[Array, Array, float]] = []  # cells that are not cut any more: points, log density, width
    while True:
        values = log_density(points, cell)
        top = values.max()
        dense = np.flatnonzero(values > top + _DENSE_LOG)
        narrowest = _narrowest_sd_d(points[:, dense], np.exp(values[dense] - top))
        fine = cell <= max(narrowest, _FINEST_D)
        if fine or 8 * len(dense) > _MOST_CELLS:
            break
        sparse = np.flatnonzero((values <= top + _DENSE_LOG) & (values > top + _EMPTY_LOG))
        left.append((points[:, sparse], values[sparse], cell))
        cell /= 2.0
        points = (points[:, dense, None] + cell * _CORNERS[:, None, :]).reshape(3, -1)
    left.append((points, log_density(points, 0.0) if fine else values, cell))
    return _gathered(left)


def _gathered(parts: list[tuple[Array, Array, float]]) -> Lattice:
    points = np.concatenate([each for each, _, _ in parts], axis=1)
    cells = np.concatenate([np.full(len(values), cell) for _, values, cell in parts])
    values = np.concatenate([values + 3.0 * np.log(cell) for _, values, cell in parts])
    weights = np.exp(values - values.max())
    weights /= weights.sum()
    kept = np.flatnonzero(weights > _LEFT_OUT / len(weights))
    return Lattice(points[:, kept], weights[kept] / weights[kept].sum(), cells[kept])


def _narrowest_sd_d(points: Array, weights: Array) -> float:
    """The smallest standard deviation in any direction, dioptres."""
    share = weights / weights.sum()
    off = points - (points @ share)[:, None]
    return float(np.sqrt(max(0.0, np.linalg.eigvalsh((off * share) @ off.T)[0])))
