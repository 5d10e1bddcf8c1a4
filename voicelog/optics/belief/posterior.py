"""What every look of an eye together says of its refraction."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from voicelog.optics import checks
from voicelog.optics.advice import off_right_angle_deg, snapped_axis_deg
from voicelog.optics.angles import double_angle, normalise_axis_deg, perpendicular_deg
from voicelog.optics.belief.answers import Array, normal_below
from voicelog.optics.belief.evidence import Evidence
from voicelog.optics.belief.glance import Glance, LookModel
from voicelog.optics.belief.lattice import Lattice, cover
from voicelog.optics.belief.prior import WIDE_PRIOR, Prior
from voicelog.optics.checks import Form
from voicelog.optics.grouping import BELONGS_DEG, group_looks
from voicelog.optics.readings import Look
from voicelog.optics.refraction import PowerVector
from voicelog.optics.rounding import QUARTER_D
from voicelog.optics.uncertainty import Matrix, Uncertainty, propagate

COVERAGE: Final = 0.95
_DRAWS: Final = 4096
_DISTANCE_NODES: Final = 15
_DISTANCE_REACH_SD: Final = 3.5
_TRUNCATED: Final = 0.8769
"""Variance of a normal vector of 3 inside its 95 % region, as a share of the whole: P(chi2_5 < q) / P(chi2_3 < q)."""
_NAMED_FROM: Final = 0.5
"""A look is named when it was more likely a slip than not."""


@dataclass(frozen=True)
class Belief:
    """What is held of an eye after its looks. Powers are net, dioptres.

    prior        what was held before them
    evidence     the looks and how they are read
    lattice      the gross power vectors that are left, with their weights
    allowance_d  taken off M for the net values; its error is in everything that is told
    """

    prior: Prior
    evidence: Evidence
    lattice: Lattice
    allowance_d: float

    @property
    def rests_on(self) -> str:
        """In words: the number of looks, what was taken as known of the streak, and the prior."""
        count = len(self.evidence.glances)
        looks = f"{count} look{'' if count == 1 else 's'}"
        band = ", streak along the band" if self.evidence.along_band_deg is not None else ""
        return f"{looks}{band}; known before: {self.prior.name}"

    @cached_property
    def _core(self) -> tuple[PowerVector, Matrix]:
        """Mean and covariance of the densest 95 %, scaled as for a normal vector: slips' far tails do not count."""
        points, weights = self.lattice.points, self.lattice.weights
        order = np.argsort(self.lattice.log_densities)[::-1]
        inside = order[: int(np.searchsorted(np.cumsum(weights[order]), COVERAGE)) + 1]
        share = weights[inside] / weights[inside].sum()
        where = points[:, inside]
        middle = where @ share
        off = where - middle[:, None]
        covariance = (off * share) @ off.T / _TRUNCATED
        shift, m_sd = self._net_m(middle[:, None])
        covariance[0, 0] += m_sd**2
        vector = PowerVector(float(shift[0]), float(middle[1]), float(middle[2]))
        first, second, third = (tuple(map(float, row)) for row in covariance)
        return vector, (first, second, third)

    @property
    def estimate(self) -> PowerVector:
        """The middle of what is left, net."""
        return self._core[0]

    @cached_property
    def uncertainty(self) -> Uncertainty:
        """Standard deviations, as the plain result gives them."""
        return self.uncertainty_in("minus")

    def uncertainty_in(self, form: Form) -> Uncertainty:
        """The same for the sphere of a form."""
        return propagate(*self._core, form)

    def _net_m(self, points: Array) -> tuple[Array, float]:
        """Net M (n values) of gross points, shape (3, n), and its standard deviation: the working distance's.

        What the prior adds to the allowance is left out: it matters where the prior is as narrow as the allowance's
        error, and no prior here is.
        """
        return points[0] - self.allowance_d, self.evidence.model.errors.allowance_sd_d

    @cached_property
    def _drawn(self) -> tuple[Array, Array]:
        """4096 gross power vectors, shape (3, 4096), and as many even shares from 0 to 1 for what else is unknown.

        Points spread evenly over the cells, drawn again by how the density within a cell differs from the cell's own.
        """
        steps = np.arange(2 * _DRAWS)
        chosen = _evenly(self.lattice.weights, len(steps))
        # An additive recurrence fills the cells evenly (Roberts' R4, from memory).
        within = (steps[None, :] * _RECURRENCE[:, None] + 0.5) % 1.0
        gross = self.lattice.points[:, chosen] + self.lattice.cells_d[chosen] * (within[:3] - 0.5)
        density = self._gross_log_density(gross) - self.lattice.log_densities[chosen]
        again = _evenly(np.exp(density - density.max()), _DRAWS)
        return gross[:, again], within[3, again]

    @property
    def gross_draws(self) -> Array:
        """4096 gross power vectors, shape (3, 4096), dioptres, drawn evenly and always the same."""
        return self._drawn[0]

    @cached_property
    def draws(self) -> Array:
        """The same, net: the allowance taken off with its error."""
        gross, shares = self._drawn
        drawn = gross.copy()
        m, sd = self._net_m(gross)
        drawn[0] = m + sd * _normal_quantile(shares)
        return drawn

    def _gross_log_density(self, points: Array) -> Array:
        m_sd = self.evidence.model.errors.allowance_sd_d
        before = self.prior.log_density(points, self.allowance_d, m_sd)
        return before + self.evidence.log_likelihood(points)

    def log_density(self, vectors: Array) -> Array:
        """Log density (n values, up to a constant) of net power vectors, shape (3, n)."""
        sd = self.evidence.model.errors.allowance_sd_d
        nodes = np.linspace(-_DISTANCE_REACH_SD, _DISTANCE_REACH_SD, _DISTANCE_NODES) if sd else np.zeros(1)
        parts = []
        for node in nodes.tolist():
            gross = vectors + np.array([[self.allowance_d + node * sd], [0.0], [0.0]])
            parts.append(self.evidence.log_likelihood(gross) - 0.5 * node * node)
        likelihood: Array = np.logaddexp.reduce(parts, axis=0)
        return self.prior.log_density(vectors, 0.0, 0.0) + likelihood

    @cached_property
    def _least_log_density(self) -> float:
        return float(np.quantile(self.log_density(self.draws), 1.0 - COVERAGE))

    def covers(self, vector: PowerVector) -> bool:
        """Whether a net refraction lies in the 95 % region: the densest part of what is left."""
        at = np.array([[vector.m_d], [vector.j0_d], [vector.j45_d]])
        return bool(self.log_density(at)[0] >= self._least_log_density)

    def along_d(self, meridian_deg: float) -> Array:
        """Net powers along a meridian (degrees), 4096 draws, dioptres."""
        cosine, sine = double_angle(checks.axis("meridian", meridian_deg))
        m, j0, j45 = self.draws
        along: Array = m + cosine * j0 + sine * j45
        return along

    def interval_d(self, meridian_deg: float, coverage: float = COVERAGE) -> tuple[float, float]:
        """The middle `coverage` of the net powers along a meridian (degrees), dioptres."""
        tail = (1.0 - coverage) / 2.0
        low, high = np.quantile(self.along_d(meridian_deg), [tail, 1.0 - tail])
        return float(low), float(high)

    def step_chances(self, meridian_deg: float, step_d: float = QUARTER_D) -> dict[float, float]:
        """How likely each step is the one nearest to the net power along a meridian; the likeliest first."""
        steps, counts = np.unique(np.rint(self.along_d(meridian_deg) / step_d), return_counts=True)
        ranked = sorted(
            zip(counts.tolist(), steps.tolist(), strict=True), key=lambda each: (-each[0], each[1])
        )
        return {step * step_d + 0.0: count / _DRAWS for count, step in ranked if count / _DRAWS > 1e-3}

    @property
    def principal_deg(self) -> tuple[float, float]:
        """Two meridians at right angles: along the streaks laid along the band, else those of the estimate."""
        axis = self.evidence.along_band_deg
        if axis is None:
            axis = self.estimate.minus_axis_deg or 180.0
        return axis, perpendicular_deg(axis)

    def chance_within(self, limit_d: float = QUARTER_D) -> float:
        """Chance that gross powers lie within `limit_d` of the estimate along both principal meridians.

        Where the streak was not laid along the band the two meridians between them count as well, or a wrong axis
        would pass. The working distance's error is left out: no lens makes it smaller.
        """
        first, second = self.principal_deg
        meridians = [first, second]
        if self.evidence.along_band_deg is None:
            meridians += [normalise_axis_deg(first + 45.0), normalise_axis_deg(second + 45.0)]
        points, weights = self.lattice.points, self.lattice.weights
        inside = np.ones(len(weights))
        estimate = self.estimate
        for meridian in meridians:
            cosine, sine = double_angle(meridian)
            along = points[0] + cosine * points[1] + sine * points[2]
            off = np.abs(along - self.allowance_d - estimate.power_along_d(meridian))
            inside *= np.clip((limit_d - off) / self.lattice.cells_d + 0.5, 0.0, 1.0)
        return float(weights @ inside)

    @cached_property
    def slip_chances(self) -> tuple[float, ...]:
        """For each look the chance that it was a slip, by all the others and what slips are like."""
        return self.evidence.slip_chances(self.lattice.points, self.lattice.weights)

    @property
    def slips(self) -> tuple[int, ...]:
        """Indices of the looks that do not fit: more likely slips than not."""
        return tuple(index for index, chance in enumerate(self.slip_chances) if chance > _NAMED_FROM)

    @cached_property
    def start_chance(self) -> float:
        """Chance that the eye is as the prior is named for, and not one that may be anything."""
        m_sd = self.evidence.model.errors.allowance_sd_d
        shares = self.prior.known_shares(self.lattice.points, self.allowance_d, m_sd)
        return float(self.lattice.weights @ shares)

    @property
    def start_fits(self) -> bool:
        """Whether what was held before the looks is more likely true of this eye than not."""
        return self.start_chance >= _NAMED_FROM


_ROOT: Final = 1.16730397826142  # x^5 = x + 1
_RECURRENCE: Final = np.array([1.0 / _ROOT**power for power in (1, 2, 3, 4)])


def _evenly(weights: Array, count: int) -> NDArray[np.intp]:
    """`count` indices drawn in proportion to weights, at even steps of their sum."""
    total = np.cumsum(weights)
    chosen = np.searchsorted(total, (np.arange(count) + 0.5) / count * total[-1])
    within: NDArray[np.intp] = np.minimum(chosen, len(weights) - 1)
    return within


def _normal_quantile(share: Array) -> Array:
    at = np.linspace(-4.5, 4.5, 1801)
    return np.interp(share, normal_below(at), at)


def along_band_deg(glances: Sequence[Glance]) -> float | None:
    """The meridian whose streak counts as laid along the band, degrees; None when none does.

    As in the plain result: two meridians within 10 degrees of a right angle, or one alone. Three and more are a fan.
    """
    groups = [group.meridian_deg for group in group_looks([glance.look for glance in glances], "last")]
    if len(groups) == 1:
        return groups[0]
    if len(groups) == 2 and off_right_angle_deg(groups) <= BELONGS_DEG:
        return snapped_axis_deg(groups)
    return None


def believe(
    looks: Sequence[Look | Glance],
    *,
    allowance_d: float = 0.0,
    prior: Prior = WIDE_PRIOR,
    model: LookModel | None = None,
    along_band: bool = True,
) -> Belief:
    """What the looks at one eye in one pass say together, neutral or not, last or not.

    `allowance_d` (dioptres) is taken off as in `solve_looks`. `along_band`: whether an examiner who looks in one
    meridian, or in two at right angles, laid the streak along the band there; the plain result takes it so.
    Raises NotFiniteError, PowerRangeError.
    """
    checks.allowance("allowance", allowance_d)
    glances = tuple(look if isinstance(look, Glance) else Glance(look) for look in looks)
    known = model or LookModel()
    evidence = Evidence(glances, known, along_band_deg(glances) if along_band and glances else None)

    def log_density(points: Array, cell_d: float) -> Array:
        before = prior.log_density(points, allowance_d, known.errors.allowance_sd_d, cell_d)
        return before + evidence.log_likelihood(points, cell_d)

    return Belief(prior, evidence, cover(log_density), allowance_d)
