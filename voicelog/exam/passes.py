"""Retinoscopy repeated: several passes of one eye, each solved by itself, averaged as power vectors.

Refractions are averaged as (M, J0, J45), never as sphere, cylinder and axis (Thibos, Wheeler & Horner, Optom Vis Sci
1997;74:367-375). The spread of a handful of passes is a picture of their agreement, no estimate of the error.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from math import dist, hypot, sqrt

from voicelog.optics import Form, PowerVector, SpheroCylinder, round_refraction


@dataclass(frozen=True, slots=True)
class PassMean:
    """The mean of several passes, and how far they lie apart. All powers in dioptres.

    net           the nearest writable lens to the mean
    exact         the mean, unrounded
    spread        sample standard deviations of M, J0 and J45 over the passes (n - 1)
    spread_d      root mean square distance of the passes from their mean, as vectors
    furthest_d    largest distance between any two passes, as vectors
    """

    count: int
    net: SpheroCylinder
    exact: SpheroCylinder
    vector: PowerVector
    spread: PowerVector
    spread_d: float
    furthest_d: float


def mean_of_passes(
    vectors: Sequence[PowerVector],
    form: Form = "minus",
    power_step_d: float = 0.25,
    axis_step_deg: int = 1,
) -> PassMean | None:
    """The mean of two or more refractions; None of fewer, for one pass has no spread."""
    if len(vectors) < 2:
        return None
    mean = _sum(vectors) * (1 / len(vectors))
    away = [vector - mean for vector in vectors]
    return PassMean(
        count=len(vectors),
        net=round_refraction(mean, power_step_d, axis_step_deg, form),
        exact=mean.to_sphero_cylinder(form),
        vector=mean,
        spread=PowerVector(*(_deviation(part) for part in zip(*map(_parts, away), strict=True))),
        spread_d=sqrt(sum(each.blur_strength_d**2 for each in away) / len(away)),
        furthest_d=max(dist(*pair) for pair in combinations(map(_parts, vectors), 2)),
    )


def apart(mean: PassMean) -> str:
    """How far the passes lie apart, in words: "at most 0.35 D apart"."""
    return f"at most {mean.furthest_d:.2f} D apart"


def _sum(vectors: Sequence[PowerVector]) -> PowerVector:
    total = PowerVector(0.0, 0.0, 0.0)
    for vector in vectors:
        total = total + vector
    return total


def _parts(vector: PowerVector) -> tuple[float, float, float]:
    return vector.m_d, vector.j0_d, vector.j45_d


def _deviation(away: tuple[float, ...]) -> float:
    return hypot(*away) / sqrt(len(away) - 1)
