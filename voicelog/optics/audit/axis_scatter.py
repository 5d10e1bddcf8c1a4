"""How far axes by two methods lie apart, by the size of the cylinder."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean
from typing import Final

from voicelog.optics.angles import axis_difference_deg
from voicelog.optics.refraction import SpheroCylinder

CYLINDER_BANDS_D: Final = ((0.25, 0.75), (1.0, 1.75), (2.0, math.inf))
"""Cylinders of the second method, from and up to, dioptres: our own choice, no source."""
_SLACK: Final = 0.125  # half a step: unrounded cylinders belong to the step that is nearest


@dataclass(frozen=True, slots=True)
class AxisBand:
    """Axes of one band of cylinders: `turn_deg` the mean turn from second to first, anticlockwise plus;
    `scatter_deg` the root mean square turn, degrees."""

    from_d: float
    to_d: float
    eyes: int
    turn_deg: float
    scatter_deg: float


def axis_scatter(pairs: Sequence[tuple[SpheroCylinder, SpheroCylinder]]) -> tuple[AxisBand, ...]:
    """Bands that have eyes, of pairs (first method, second method); eyes without a cylinder in one have no axis."""
    turns: dict[tuple[float, float], list[float]] = {band: [] for band in CYLINDER_BANDS_D}
    for first, second in pairs:
        one, two = first.minus_cylinder(), second.minus_cylinder()
        if one.axis_deg is None or two.axis_deg is None:
            continue
        for low, high in CYLINDER_BANDS_D:
            if low - _SLACK <= abs(two.cylinder_d) < high + _SLACK:
                turns[low, high].append(axis_difference_deg(one.axis_deg, two.axis_deg))
    return tuple(
        AxisBand(low, high, len(each), fmean(each), math.sqrt(fmean(turn**2 for turn in each)))
        for (low, high), each in turns.items()
        if each
    )
