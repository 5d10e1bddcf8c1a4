"""Power vectors and matrices by the formulas of the papers that introduced them."""

import math

import numpy as np
import pytest

from tests.published.published_checks import lens
from voicelog.optics import (
    PUBLISHED_NEUTRALITY_SD_D,
    ErrorModel,
    MeridianReading,
    PowerVector,
    SpheroCylinder,
    Uncertainty,
    solve_readings,
)

LENSES = [
    "-2.00 -1.00 x30",
    "+3.00 -4.00 x30",
    "-1.00 -1.50 x180",
    "-0.50 -1.50 x120",
    "+1.50 -0.75 x90",
    "pl -1.00 x45",
    "-7.68 -4.50 x10",
]
CONVERTED = {
    # Worked by hand for this project from the formulas below, to four decimals: (M, J0, J45), (f11, f12, f22).
    "-2.00 -1.00 x30": ((-2.5000, 0.2500, 0.4330), (-2.2500, 0.4330, -2.7500)),
    "+3.00 -4.00 x30": ((1.0000, 1.0000, 1.7321), (2.0000, 1.7321, 0.0000)),
    "-1.00 -1.50 x180": ((-1.7500, 0.7500, 0.0), (-1.0000, 0.0, -2.5000)),
    "-0.50 -1.50 x120": ((-1.2500, -0.3750, -0.6495), (-1.6250, -0.6495, -0.8750)),
    "+1.50 -0.75 x90": ((1.1250, -0.3750, 0.0), (0.7500, 0.0, 1.5000)),
    "pl -1.00 x45": ((-0.5000, 0.0, 0.5000), (-0.5000, 0.5000, -0.5000)),
    # The right-eye mean of fifty optometrists, about -7.68 -4.50 x 10: Mathebula & Rubin, BMJ Open Ophthalmol
    # 2022;7:e000954 (the refraction is printed, its vector worked here).
    "-7.68 -4.50 x10": ((-9.9300, 2.1143, 0.7695), (-7.8157, 0.7695, -12.0443)),
}


@pytest.mark.parametrize("text", LENSES)
def test_power_vector_of_thibos_wheeler_and_horner(text: str) -> None:
    """Thibos, Wheeler & Horner, Optom Vis Sci 1997;74:367-375 (abstract seen, formulas from memory): M = S + C/2,
    J0 = -(C/2) cos 2A, J45 = -(C/2) sin 2A."""
    given = lens(text)
    assert given.axis_deg is not None
    doubled = math.radians(2.0 * given.axis_deg)

    expected = (
        given.sphere_d + given.cylinder_d / 2.0,
        -given.cylinder_d / 2.0 * math.cos(doubled),
        -given.cylinder_d / 2.0 * math.sin(doubled),
    )
    vector = given.vector
    assert (vector.m_d, vector.j0_d, vector.j45_d) == pytest.approx(expected, abs=1e-12)
    assert (vector.m_d, vector.j0_d, vector.j45_d) == pytest.approx(CONVERTED[text][0], abs=5e-5)


@pytest.mark.parametrize("text", LENSES)
def test_back_from_the_power_vector(text: str) -> None:
    """The same paper: C = -2 sqrt(J0^2 + J45^2), S = M - C/2, axis half of atan2(J45, J0)."""
    m, j0, j45 = CONVERTED[text][0]

    back = PowerVector(m, j0, j45).to_sphero_cylinder()

    assert back.sphere_d == pytest.approx(lens(text).sphere_d, abs=1e-4)
    assert back.cylinder_d == pytest.approx(lens(text).cylinder_d, abs=1e-4)
    assert back.axis_deg == pytest.approx(lens(text).axis_deg, abs=5e-3)


@pytest.mark.parametrize("text", LENSES)
def test_power_matrix_of_long(text: str) -> None:
    """Long, "A matrix formalism for decentration problems", Am J Optom Physiol Opt 1976;53:27-33 (abstract seen,
    formulas from memory): f11 = S + C sin^2 A, f12 = -C sin A cos A, f22 = S + C cos^2 A."""
    given = lens(text)
    assert given.axis_deg is not None
    s, c = math.sin(math.radians(given.axis_deg)), math.cos(math.radians(given.axis_deg))

    f11, f12, f22 = (
        given.sphere_d + given.cylinder_d * s * s,
        -given.cylinder_d * s * c,
        given.sphere_d + given.cylinder_d * c * c,
    )
    assert given.vector.matrix == pytest.approx(np.array([[f11, f12], [f12, f22]]), abs=1e-12)
    assert (f11, f12, f22) == pytest.approx(CONVERTED[text][1], abs=5e-5)


@pytest.mark.parametrize("text", LENSES)
def test_lens_from_the_trace_and_determinant(text: str) -> None:
    """Keating, "An easier method to obtain the sphere, cylinder, and axis from an off-axis dioptric power matrix",
    Am J Optom Physiol Opt 1980;57:734-737 (from memory): C = -sqrt(T^2 - 4 D), S = (T - C)/2,
    tan A = (S - f11)/f12."""
    matrix = lens(text).vector.matrix
    trace, determinant = matrix.trace(), np.linalg.det(matrix)
    cylinder = -math.sqrt(trace**2 - 4.0 * determinant)
    sphere = (trace - cylinder) / 2.0

    found = PowerVector.from_matrix(matrix).to_sphero_cylinder()

    assert found.cylinder_d == pytest.approx(cylinder, abs=1e-7)
    assert found.sphere_d == pytest.approx(sphere, abs=1e-7)
    if abs(matrix[0, 1]) > 1e-9:
        axis = math.degrees(math.atan2(sphere - matrix[0, 0], matrix[0, 1])) % 180.0
        assert found.axis_deg == pytest.approx(axis, abs=1e-5)


@pytest.mark.parametrize("text", LENSES)
def test_principal_powers_are_the_eigenvalues(text: str) -> None:
    """Long 1976 as above: the matrix has the principal powers as eigenvalues (linear algebra by NumPy)."""
    given = lens(text)

    expected = sorted([given.sphere_d, given.sphere_d + given.cylinder_d])
    assert np.linalg.eigvalsh(given.vector.matrix) == pytest.approx(expected, abs=1e-9)


def test_blur_strength_of_thibos_and_horner() -> None:
    """Thibos & Horner, "Power vector analysis of the optical outcome of refractive surgery", J Cataract Refract Surg
    2001;27:80-85 (abstract seen): B is the Pythagorean length of (M, J0, J45). For a sphere it is the power, for
    a crossed cylinder of power J it is J, for a cylinder C it is C/sqrt 2."""
    assert SpheroCylinder(-3.0).vector.blur_strength_d == 3.0
    assert lens("+0.50 -1.00 x37").vector.blur_strength_d == pytest.approx(0.5)
    assert lens("pl -2.00 x37").vector.blur_strength_d == pytest.approx(2.0 / math.sqrt(2.0))


def test_the_other_convention_in_use() -> None:
    """A forum post (optiboard.com thread 62100, 2015) uses C0 = C cos 2A, C45 = C sin 2A: no half, other sign. The two
    are related by a factor of -2; mixing them turns the axis by 90 degrees."""
    given = lens("-2.00 -1.00 x30")
    doubled = math.radians(60.0)
    c0, c45 = given.cylinder_d * math.cos(doubled), given.cylinder_d * math.sin(doubled)

    assert (c0, c45) == pytest.approx((-2.0 * given.vector.j0_d, -2.0 * given.vector.j45_d))
    mixed = PowerVector(given.vector.m_d, c0, c45).to_sphero_cylinder()
    assert mixed.axis_deg == pytest.approx(120.0)


def test_axis_repeatability_of_retinoscopy() -> None:
    """Walline, Kinney, Zadnik & Mutti, "Repeatability and validity of astigmatism measurements", J Refract Surg
    1999;15:23-31 (authors and pages from memory, abstract seen): retinoscopy without drops, 95 % limits of the
    cylinder between visits 1.02 D, and 40 % of axes differed by 10 degrees or more.

    The first number gives one reading's spread; the second then tests the axis model. The cylinders of the forty
    adults are not in the abstract; for 0.75 to 2.00 D the predicted share must include the printed 40 %."""
    model = ErrorModel(lens_step_d=0.0, neutrality_sd_d=PUBLISHED_NEUTRALITY_SD_D)

    def one_visit(cylinder: float) -> Uncertainty:
        readings = [MeridianReading(180, 1.0), MeridianReading(90, 1.0 + cylinder)]
        found = solve_readings(readings, errors=model).uncertainty
        assert found is not None
        return found

    def share_beyond_10_deg(cylinder: float) -> float:
        axis_sd_deg = one_visit(cylinder).axis_sd_deg
        assert axis_sd_deg is not None
        between_visits = math.sqrt(2.0) * axis_sd_deg
        return math.erfc(10.0 / between_visits / math.sqrt(2.0))

    limits = 1.96 * math.sqrt(2.0) * one_visit(-1.0).cylinder_sd_d
    assert limits == pytest.approx(1.02, abs=0.02)
    assert share_beyond_10_deg(-2.00) < 0.40 < share_beyond_10_deg(-0.75)
