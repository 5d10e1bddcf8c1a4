"""The refractions that a result does not exclude: its 95 % region."""

import math

import numpy as np

from voicelog.optics.errors import ErrorModelError
from voicelog.optics.refraction import PowerVector, SpheroCylinder
from voicelog.optics.significance import chi_square_chance
from voicelog.optics.solution import LooksSolution
from voicelog.optics.uncertainty import USUAL_ERRORS, ErrorModel, across_sd_d


def in_region(
    solution: LooksSolution,
    refraction: SpheroCylinder | PowerVector,
    coverage: float = 0.95,
    errors: ErrorModel = USUAL_ERRORS,
) -> bool:
    """Whether a refraction lies in the region that holds the true one in `coverage` of exams.

    Of a true refraction the distance from the result, d' C^-1 d, is chi-square with 3 degrees of freedom. A pair
    of meridians measures two of them; the third, the oblique part, is what the streak's setting makes of the
    true cylinder, next to nothing for a small one: its share in the distance is smaller by the same factor.
    `errors` is the model of the solution. Raises ErrorModelError when the solution states no uncertainty.
    """
    if solution.uncertainty is None or solution.vector is None:
        raise ErrorModelError("the result states no uncertainty; an error model is needed to solve with")
    vector = refraction.vector if isinstance(refraction, SpheroCylinder) else refraction
    off = solution.vector - vector
    row = np.array([off.m_d, off.j0_d, off.j45_d])
    try:
        distance = float(row @ np.linalg.solve(np.array(solution.uncertainty.covariance), row))
    except np.linalg.LinAlgError:
        raise ErrorModelError("the uncertainty of the result is 0; there is no region") from None
    share = 1.0
    if solution.pair_axis_deg is not None:
        stated = across_sd_d(solution.uncertainty.covariance, solution.pair_axis_deg) ** 2
        share = min(1.0, _oblique_variance(vector.astigmatism_d, errors) / stated)
    return distance_chance(distance, share) > 1.0 - coverage


def _oblique_variance(half_d: float, errors: ErrorModel) -> float:
    """Variance of the oblique part of a cylinder of 2 `half_d` read along a streak set with error, square dioptres.

    Turned by a normal e the oblique part is half_d sin 2e, of variance half_d^2 (1 - exp(-8 var e)) / 2. The
    streak's own error and what cannot be seen off axis make up e, as for the covariance of the result.
    """
    if half_d == 0.0:
        return 0.0
    unseen = errors.reading_sd_d**2 / 2.0 / (2.0 * half_d) ** 2
    turn = math.radians(errors.streak_sd_deg) ** 2 + unseen
    return -math.expm1(-8.0 * turn) * half_d**2 / 2.0


def distance_chance(distance: float, share: float) -> float:
    """Chance that two squared normal values and `share` (0 to 1) of a third come to at least `distance`.

    The first two make an exponential, over which the third is integrated in closed form.
    """
    if share > 1.0 - 1e-9:
        return chi_square_chance(distance, 3)
    if share < 1e-9:
        return math.exp(-distance / 2.0)
    rest = 1.0 - share
    beyond = math.erfc(math.sqrt(distance / (2.0 * share)))
    within = math.erf(math.sqrt(rest * distance / (2.0 * share)))
    return beyond + math.exp(-distance / 2.0) / math.sqrt(rest) * within
