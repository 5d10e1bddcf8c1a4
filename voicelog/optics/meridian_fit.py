"""The fit that the measured meridians allow: a pair at right angles, or least squares of three and more."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Final

from voicelog.optics import advice
from voicelog.optics.angles import axis_difference_deg, double_angle
from voicelog.optics.disagreement import Judged, judge
from voicelog.optics.fitting import Fit, fit_all_components, fit_perpendicular
from voicelog.optics.grouping import BELONGS_DEG
from voicelog.optics.problems import Problem
from voicelog.optics.refraction import PowerVector
from voicelog.optics.uncertainty import ErrorModel, Matrix, across_sd_d, fit_covariance, power_sds_d

PAIR_ALONE_ABOVE: Final = 2.5
# Where a reading's error comes to more than 2.5 times itself in the result and there is a pair at right angles,
# the pair alone gives the result: a third meridian 15 degrees beside it, read with the usual 0.27 D, would turn
# the axis of a 1.50 D cylinder by 22 degrees (one standard deviation) of its own. Our choice, no source.
_LEAST_SD_D: Final = 1e-6  # readings said to have no error are still numbers of a computer


@dataclass(frozen=True, slots=True)
class Measured:
    """n powers (net, dioptres) along n meridians (degrees) with n own standard deviations (dioptres).

    `groups` holds the positions of each meridian's readings, `group_meridians_deg` where it lies.
    """

    meridians_deg: Sequence[float]
    powers_d: Sequence[float]
    own_sds_d: Sequence[float]
    groups: Sequence[Sequence[int]]
    group_meridians_deg: Sequence[float]


@dataclass(frozen=True, slots=True)
class MeridianFit:
    """A fit of n readings.

    fit             of the readings that give the result
    residuals_d     n powers minus fit, dioptres
    sds_d           n standard deviations of the powers, dioptres
    covariance      of (M, J0, J45) from the readings' errors, 3 rows of 3, square dioptres
    pair            the two meridians that were taken as at right angles, degrees; empty when (M, J0, J45) were fitted
    problems        what to know of the fit; `useless` says that it means nothing
    """

    measured: Measured
    fit: Fit
    residuals_d: tuple[float, ...]
    sds_d: tuple[float, ...]
    covariance: Matrix
    pair: tuple[float, ...]
    problems: tuple[Problem, ...]

    @property
    def vector(self) -> PowerVector:
        """The fitted power vector, dioptres."""
        return self.fit.vector

    @property
    def useless(self) -> bool:
        """Whether the meridians lie so close together that the result means nothing."""
        return self.fit.amplification > advice.USELESS_AMPLIFICATION

    def judged(self, sign_changed: tuple[int, float] | None = None) -> Judged:
        """Whether the readings agree; as if one had another power, when its position and that (net) are given.

        A pair says nothing of the oblique part of its cylinder. It counts as one more observation: zero, with
        the error that the setting of the streak has.
        """
        measured, axis = self.measured, self.fit.axis_deg
        powers = list(measured.powers_d)
        if sign_changed is not None:
            powers[sign_changed[0]] = sign_changed[1]
        sds = list(self.sds_d)
        design = [(1.0, *double_angle(meridian)) for meridian in measured.meridians_deg]
        if axis is not None:
            cosine, sine = double_angle(axis)
            for position, meridian in enumerate(measured.meridians_deg):
                if self._in_pair(position):
                    along = 1.0 if abs(axis_difference_deg(meridian, axis)) < 45.0 else -1.0
                    design[position] = (1.0, along * cosine, along * sine)
            design.append((0.0, -sine, cosine))
            powers.append(0.0)
            sds.append(across_sd_d(self.covariance, axis))
        return judge(design, powers, [max(sd, _LEAST_SD_D) for sd in sds])

    def _in_pair(self, position: int) -> bool:
        groups = zip(self.measured.groups, self.measured.group_meridians_deg, strict=True)
        return any(position in group and meridian in self.pair for group, meridian in groups)


def fit_meridians(measured: Measured, errors: ErrorModel) -> MeridianFit:
    """Fit two meridians within 10 degrees of a right angle as a pair, three and more by least squares.

    Three and more that fix the lens poorly are left to the pair among them that is nearest to a right angle.
    """
    if len(measured.group_meridians_deg) == 2:
        return _pair_fit(measured, (0, 1), errors)
    fit = fit_all_components(measured.meridians_deg, measured.powers_d)
    pair = _best_pair(measured.group_meridians_deg) if fit.amplification > PAIR_ALONE_ABOVE else None
    if pair is not None:
        return _pair_fit(measured, pair, errors)
    sds = power_sds_d(fit.vector, measured.meridians_deg, measured.own_sds_d, errors)
    problems = [advice.ill_conditioned(measured.group_meridians_deg, fit)]
    covariance = fit_covariance(fit, sds, errors)
    return MeridianFit(measured, fit, fit.residuals_d, tuple(sds), covariance, (), _present(problems))


def _best_pair(meridians_deg: Sequence[float]) -> tuple[int, int] | None:
    """Positions of the two meridians nearest to a right angle, the earlier of two alike; None beyond 10 degrees."""

    def off(pair: tuple[int, int]) -> float:
        return advice.off_right_angle_deg([meridians_deg[pair[0]], meridians_deg[pair[1]]])

    best = min(combinations(range(len(meridians_deg)), 2), key=off)
    return best if off(best) <= BELONGS_DEG else None


def _pair_fit(measured: Measured, pair: tuple[int, int], errors: ErrorModel) -> MeridianFit:
    used = sorted(position for group in pair for position in measured.groups[group])
    meridians = [measured.meridians_deg[position] for position in used]
    angles = tuple(measured.group_meridians_deg[group] for group in pair)
    powers = [measured.powers_d[position] for position in used]
    fit = fit_perpendicular(meridians, powers, advice.snapped_axis_deg(angles))
    covariance = fit_covariance(fit, [measured.own_sds_d[position] for position in used], errors)
    sds = power_sds_d(fit.vector, measured.meridians_deg, measured.own_sds_d, errors)
    for position in used:
        sds[position] = measured.own_sds_d[position]  # principal powers are stationary
    left = dict(zip(used, fit.residuals_d, strict=True))
    residuals = tuple(
        left[position] if position in left else power - fit.vector.power_along_d(meridian)
        for position, (meridian, power) in enumerate(
            zip(measured.meridians_deg, measured.powers_d, strict=True)
        )
    )
    others = [each for group, each in enumerate(measured.group_meridians_deg) if group not in pair]
    problems = [advice.snapped(angles), advice.only_checked(angles, others)]
    return MeridianFit(measured, fit, residuals, tuple(sds), covariance, angles, _present(problems))


def _present(problems: Sequence[Problem | None]) -> tuple[Problem, ...]:
    return tuple(problem for problem in problems if problem is not None)
