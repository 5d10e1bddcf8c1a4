"""What a list of looks makes: the refraction, what is missing, and what does not agree."""

from dataclasses import dataclass
from typing import Literal

from voicelog.optics.problems import Problem
from voicelog.optics.refraction import PowerVector, SpheroCylinder
from voicelog.optics.uncertainty import Matrix, Uncertainty

Status = Literal["empty", "incomplete", "solved", "conflict"]


@dataclass(frozen=True, slots=True)
class Solution:
    """A refraction solved from readings, or what is missing.

    status       "empty" no reading; "incomplete" more readings are needed; "solved"; "conflict" the
                 readings disagree, or give a power beyond 40 D
    exact        unrounded lens; None when the readings do not determine one (or it is beyond 40 D)
    net          the lens to write down and show: the nearest one in the steps asked for, or the nearest
                 sphere (problem "cylinder_unsupported"). None too when the meridians are so close together
                 that the exact one means nothing (problem "ill_conditioned", status "incomplete")
    vector       power vector of `exact`, dioptres
    residual_d   root mean square of what the fit leaves over, dioptres
    residuals_d  reading minus fit for each reading that stands, dioptres, in the order given
    condition    ratio of the largest to the smallest singular value of the fit; 1.4 for evenly
                 spread meridians, 1 for two at right angles
    worst_reading  index of the reading that fits worst, when the readings disagree and can tell which
    uncertainty  of the result, present when an error model was given
    """

    status: Status
    exact: SpheroCylinder | None = None
    net: SpheroCylinder | None = None
    vector: PowerVector | None = None
    residual_d: float | None = None
    residuals_d: tuple[float, ...] = ()
    condition: float | None = None
    worst_reading: int | None = None
    problems: tuple[Problem, ...] = ()
    uncertainty: Uncertainty | None = None


@dataclass(frozen=True, slots=True)
class MeridianSeen:
    """What the looks along one meridian, and within 10 degrees of it, say of its neutral power.

    meridian_deg    of the neutral that stands (of the first look while there is none), degrees
    looks           indices of the looks that belong to it
    neutral_d       the neutral power that stands, dioptres; None while there is none
    lower_d, upper_d  motions put the neutral power above / below these, dioptres; None when unbounded
    midpoint_d      middle between both bounds, dioptres; None unless both are there in this order
    midpoint_sd_d   its standard deviation, dioptres
    """

    meridian_deg: float
    looks: tuple[int, ...]
    neutral_d: float | None = None
    lower_d: float | None = None
    upper_d: float | None = None
    midpoint_d: float | None = None
    midpoint_sd_d: float | None = None


@dataclass(frozen=True, slots=True)
class Estimate:
    """A preliminary refraction: bounds of motions stand where a neutral is missing.

    `lens` is rounded as a result would be, `vector` is not; in dioptres and degrees.
    """

    lens: SpheroCylinder
    vector: PowerVector
    uncertainty: Uncertainty


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A motion that cannot be true together with other looks: in words, and the indices of the looks."""

    problem: Problem
    looks: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class LooksSolution(Solution):
    """A solution from looks: as `Solution`, with what each look came to.

    standing        indices of the neutral looks that the result is made of; `residuals_d` are theirs
    meridians       what is known along each meridian, in order of appearance
    estimate        present while the status is "incomplete" but bounds fill what is missing
    contradictions  motions that cannot be true; their problems are among `problems`
    fit_covariance  covariance of (M, J0, J45) from the looks' own errors, without the working distance's,
                    3 rows of 3, square dioptres; None without a result
    pair_axis_deg   one of the two meridians at right angles when such a pair gives the result, its oblique
                    part taken as zero; None otherwise
    allowance_d     taken off the powers of the looks for the result, dioptres
    """

    standing: tuple[int, ...] = ()
    meridians: tuple[MeridianSeen, ...] = ()
    estimate: Estimate | None = None
    contradictions: tuple[Contradiction, ...] = ()
    fit_covariance: Matrix | None = None
    pair_axis_deg: float | None = None
    allowance_d: float = 0.0
