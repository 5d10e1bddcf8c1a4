"""Independent check by general-purpose libraries: lenses as wavefronts, fitted by Zernike polynomials.

A thin lens adds a sag to the wavefront; a cylinder of power C curves it only across its axis. Nothing of the
package is used to build or fit the wavefront: the sag is geometry, the polynomials are prysm's, the fits are
SciPy's. Coefficients become powers by the published second-order relation
M = 4 sqrt(3) c20 / r^2, J0 = 2 sqrt(6) c22 / r^2, J45 = 2 sqrt(6) c2-2 / r^2 for a pupil of radius r
(Thibos, Hong, Bradley & Applegate, "Accuracy and precision of objective refraction from wavefront
aberrations", J Vis 2004;4:329-351; signs here for a lens, which there are those of the eye's error).
"""

import math

import numpy as np
import pytest
from prysm.coordinates import cart_to_polar
from prysm.polynomials import zernike_nm
from scipy.linalg import lstsq
from scipy.optimize import minimize_scalar

from tests.optics.many_solves import Array
from tests.some import some
from voicelog.optics import MeridianReading, SpheroCylinder, combine, solve_readings

CASES = 1000
AGREEMENT_D = 1e-6
RADIUS_M = 0.003  # a 6 mm pupil

Pupil = tuple[Array, Array, list[tuple[int, int]], Array]


def sag_m(lens: SpheroCylinder, x: Array, y: Array) -> Array:
    """Sag of the wavefront after a thin lens, metres, in the paraxial approximation."""
    axis = math.radians(lens.axis_deg or 180.0)
    across = -x * math.sin(axis) + y * math.cos(axis)
    return (lens.sphere_d * (x**2 + y**2) + lens.cylinder_d * across**2) / 2.0


def stack_sag_m(stack: list[SpheroCylinder], x: Array, y: Array) -> Array:
    """Sag after thin lenses that touch: the sum of theirs, metres."""
    return sum((sag_m(lens, x, y) for lens in stack), start=np.zeros_like(x))


@pytest.fixture(scope="module")
def pupil() -> Pupil:
    """400 random points of the pupil, metres, and prysm's orthonormal Zernike polynomials to third order."""
    rng = np.random.default_rng(31)
    rho, theta = np.sqrt(rng.uniform(0.0, 1.0, 400)), rng.uniform(0.0, 2.0 * math.pi, 400)
    x, y = RADIUS_M * rho * np.cos(theta), RADIUS_M * rho * np.sin(theta)
    polar_rho, polar_theta = cart_to_polar(x / RADIUS_M, y / RADIUS_M, vec_to_grid=False)
    modes = [(n, m) for n in range(4) for m in range(-n, n + 1, 2)]
    basis = np.stack([zernike_nm(n, m, polar_rho, polar_theta, norm=True) for n, m in modes], axis=1)
    return x, y, modes, basis


def zernike_powers(pupil: Pupil, sag: Array) -> tuple[float, float, float]:
    """(M, J0, J45) of a wavefront by least squares, dioptres."""
    _, _, modes, basis = pupil
    coefficients = dict(zip(modes, lstsq(basis, sag)[0], strict=True))
    scale = 2.0 * math.sqrt(6.0) / RADIUS_M**2
    return (
        4.0 * math.sqrt(3.0) / RADIUS_M**2 * coefficients[2, 0],
        scale * coefficients[2, 2],
        scale * coefficients[2, -2],
    )


def random_stack(rng: np.random.Generator) -> list[SpheroCylinder]:
    """Two to four lenses at any axes, both cylinder signs."""
    return [
        SpheroCylinder(float(rng.uniform(-6, 6)), float(rng.uniform(-3, 3)), float(rng.uniform(0.01, 180.0)))
        for _ in range(rng.integers(2, 5))
    ]


def test_combinations_agree_with_the_wavefront(pupil: Pupil) -> None:
    x, y, _, _ = pupil
    rng = np.random.default_rng(32)
    worst = 0.0
    for _ in range(CASES):
        stack = random_stack(rng)
        expected = zernike_powers(pupil, stack_sag_m(stack, x, y))
        found = combine(stack).vector
        worst = max(worst, np.abs(np.subtract(expected, (found.m_d, found.j0_d, found.j45_d))).max())

    assert worst < AGREEMENT_D


def test_written_form_agrees_with_the_extreme_curvatures_of_the_wavefront() -> None:
    """Sphere, cylinder and axis without power vectors: the flattest and steepest sections of the sag."""
    rng = np.random.default_rng(33)
    for _ in range(60):
        stack = random_stack(rng)
        lens = combine(stack)

        def power(angle: float, stack: list[SpheroCylinder] = stack) -> float:
            x, y = np.array(RADIUS_M * math.cos(angle)), np.array(RADIUS_M * math.sin(angle))
            return 2.0 * float(stack_sag_m(stack, x, y)) / RADIUS_M**2

        start = max(np.linspace(0.0, math.pi, 60), key=power)
        steepest = minimize_scalar(
            lambda angle: -power(angle), bounds=(start - 0.06, start + 0.06), options={"xatol": 1e-10}
        )
        assert -steepest.fun == pytest.approx(lens.sphere_d, abs=AGREEMENT_D)
        assert power(steepest.x + math.pi / 2.0) == pytest.approx(
            lens.sphere_d + lens.cylinder_d, abs=AGREEMENT_D
        )
        turn = (math.degrees(steepest.x) - some(lens.axis_deg) + 90.0) % 180.0 - 90.0
        assert abs(turn) < 0.01  # an extremum fixes its place only to the root of its value's precision


def test_readings_of_the_wavefront_solve_to_its_zernike_powers(pupil: Pupil) -> None:
    """Whole path: curvatures along random meridians by a polynomial fit of the profile, then the solver."""
    x, y, _, _ = pupil
    rng = np.random.default_rng(34)
    along = np.linspace(-RADIUS_M, RADIUS_M, 21)
    worst = 0.0
    for _ in range(CASES):
        stack = random_stack(rng)
        distance = rng.uniform(0.3, 1.0)
        readings = []
        for meridian in np.array([10.0, 70.0, 130.0]) + rng.uniform(-8.0, 8.0, 3):
            angle = math.radians(meridian)
            profile = stack_sag_m(stack, along * math.cos(angle), along * math.sin(angle))
            curvature = 2.0 * np.polynomial.polynomial.polyfit(along / RADIUS_M, profile, 4)[2] / RADIUS_M**2
            readings.append(MeridianReading(float(meridian), float(curvature) + 1.0 / distance))
        solved = some(solve_readings(readings, 1.0 / distance).vector)
        expected = zernike_powers(pupil, stack_sag_m(stack, x, y))
        worst = max(worst, np.abs(np.subtract(expected, (solved.m_d, solved.j0_d, solved.j45_d))).max())

    assert worst < AGREEMENT_D
