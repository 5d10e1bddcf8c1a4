"""Whether a fit is to be written as a sphere: its errors alone would often make such a cylinder."""

from typing import Final

from voicelog.optics.refraction import PowerVector
from voicelog.optics.significance import chi_square_chance
from voicelog.optics.uncertainty import Matrix

UNSUPPORTED_CHANCE: Final = 0.05
# A cylinder that the errors of a sphere's readings would make in more than 5 of 100 exams is not written. The
# level is that of the 95 % region: what is left out is a cylinder whose absence lies within it.


def nearest_sphere_d(vector: PowerVector, covariance: Matrix) -> float | None:
    """The sphere (dioptres) that fits best, when the errors alone often make such a cylinder; None otherwise.

    Of a sphere J' C^-1 J, with J = (J0, J45) and C its covariance, is chi-square with 2 degrees of freedom. The
    best sphere is M less what the covariance makes of J. None too where there are no errors.
    """
    (_, m0, m45), (_, j00, j045), (_, _, j4545) = covariance
    determinant = j00 * j4545 - j045 * j045
    if determinant <= 0.0:
        return None
    first = (j4545 * vector.j0_d - j045 * vector.j45_d) / determinant
    second = (j00 * vector.j45_d - j045 * vector.j0_d) / determinant
    squared = vector.j0_d * first + vector.j45_d * second
    if chi_square_chance(squared, 2) < UNSUPPORTED_CHANCE:
        return None
    return vector.m_d - m0 * first - m45 * second
