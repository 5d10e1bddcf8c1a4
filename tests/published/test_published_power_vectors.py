"""Power vectors and matrices against what the papers that introduced them define, worked out by NumPy.

No worked example of theirs could be read in print, so no formula of theirs is repeated here from memory: the
coefficients are those of the Fourier series of the sine-squared law, the matrix is the one that has the principal
powers along the principal meridians.
"""

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


def sine_squared_law_d(given: SpheroCylinder, meridians_deg: np.ndarray) -> np.ndarray:
    """Power along meridians, S + C sin^2 of the angle from the axis: printed with examples by Optician Study, OpticalEd
    and Burek 1990, which test_published_meridians.py checks."""
    assert given.axis_deg is not None
    return given.sphere_d + given.cylinder_d * np.sin(np.radians(meridians_deg - given.axis_deg)) ** 2


@pytest.mark.parametrize("text", LENSES)
def test_power_vector_of_thibos_wheeler_and_horner(text: str) -> None:
    """Thibos, Wheeler & Horner, Optom Vis Sci 1997;74:367-375 (abstract read): "the familiar sine-squared law leads
    naturally to a Fourier series representation with exactly three Fourier coefficients"; the constant is the mean
    spherical equivalent, the harmonic in rectangular form two cross-cylinders, at 0 and at 45 degrees. The series is
    NumPy's, of the power at 36 meridians over half a turn: one period, so the first harmonic is cos 2t and sin 2t."""
    given = lens(text)
    powers = sine_squared_law_d(given, np.arange(36) * 5.0)

    series = np.fft.rfft(powers) / 36.0

    expected = (series[0].real, 2.0 * series[1].real, -2.0 * series[1].imag)
    vector = given.vector
    assert (vector.m_d, vector.j0_d, vector.j45_d) == pytest.approx(expected, abs=1e-12)
    assert np.abs(series[2:]) == pytest.approx(0.0, abs=1e-12), "exactly three"


@pytest.mark.parametrize("text", LENSES)
def test_back_from_the_power_vector(text: str) -> None:
    """From the same series back to the lens as it was written."""
    series = np.fft.rfft(sine_squared_law_d(lens(text), np.arange(36) * 5.0)) / 36.0

    back = PowerVector(series[0].real, 2.0 * series[1].real, -2.0 * series[1].imag).to_sphero_cylinder()

    assert back.sphere_d == pytest.approx(lens(text).sphere_d, abs=1e-9)
    assert back.cylinder_d == pytest.approx(lens(text).cylinder_d, abs=1e-9)
    assert back.axis_deg == pytest.approx(lens(text).axis_deg, abs=1e-6)


@pytest.mark.parametrize("text", LENSES)
def test_power_matrix_of_long(text: str) -> None:
    """Long, "A matrix formalism for decentration problems", Am J Optom Physiol Opt 1976;53:27-33 (abstract seen): a
    symmetric matrix whose principal powers lie along the principal meridians, so along the axis only the sphere acts
    and at right angles sphere and cylinder. Eigenvalues and their directions by NumPy."""
    given = lens(text)
    assert given.axis_deg is not None
    angle = math.radians(given.axis_deg)

    values, directions = np.linalg.eigh(given.vector.matrix)

    assert values == pytest.approx([given.sphere_d + given.cylinder_d, given.sphere_d], abs=1e-9)
    along_axis = directions[:, 1]
    assert abs(along_axis @ [math.cos(angle), math.sin(angle)]) == pytest.approx(1.0)


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
