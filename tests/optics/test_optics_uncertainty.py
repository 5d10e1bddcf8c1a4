"""Closed-form uncertainty against simulation and against the `uncertainties` library."""

import math

import numpy as np
import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import umath

from tests.optics.many_solves import Array
from tests.optics.optics_cases import lenses, repeatable
from tests.some import some
from voicelog.optics import (
    PUBLISHED_NEUTRALITY_SD_D,
    ErrorModel,
    ErrorModelError,
    Form,
    MeridianReading,
    PowerVector,
    SpheroCylinder,
    Uncertainty,
    WorkingDistance,
    normalise_axis_deg,
    solve_readings,
)
from voicelog.optics.uncertainty import Matrix, propagate

SAMPLES = 40_000
SAMPLING = 0.02  # a standard deviation from 40,000 samples is known to 0.35 %: more than five of those
MODEL = ErrorModel(lens_step_d=0.25, allowance_sd_d=0.045, streak_sd_deg=3.0, neutrality_sd_d=0.1)

EYES = [
    SpheroCylinder(-1.0, -2.0, 35.0),
    SpheroCylinder(2.0, -1.0, 180.0),
    SpheroCylinder(0.5, -4.5, 97.0),
    SpheroCylinder(-6.0, 1.5, 61.0),
]


def powers_along(eye: SpheroCylinder, meridians_deg: Array) -> Array:
    """F(t) = M + J0 cos 2t + J45 sin 2t for an array of angles in degrees, written out afresh."""
    axis = math.radians(some(eye.axis_deg))
    return eye.sphere_d + eye.cylinder_d * np.sin(np.radians(meridians_deg) - axis) ** 2


def noisy(rng: np.random.Generator, powers: Array, model: ErrorModel) -> Array:
    """Readings rounded within half a lens step, judged with an error, at a distance known with an error."""
    half_step = model.lens_step_d / 2.0
    errors = rng.uniform(-half_step, half_step, powers.shape) + rng.normal(
        0.0, model.neutrality_sd_d or 1e-300, powers.shape
    )
    return powers + errors + rng.normal(0.0, model.allowance_sd_d or 1e-300, (len(powers), 1))


def spreads(m: Array, j0: Array, j45: Array, eye: SpheroCylinder) -> list[float]:
    """Standard deviations of (M, J0, J45, S, C) and root mean square error of the axis."""
    half = np.hypot(j0, j45)
    sds = [float(np.std(values)) for values in (m, j0, j45, m + half, 2.0 * half)]
    return [*sds, axis_error_deg(j0, j45, eye)]


def axis_error_deg(j0: Array, j45: Array, eye: SpheroCylinder) -> float:
    """Root mean square error of the axis."""
    true_axis = math.radians(some(eye.minus_cylinder().axis_deg))
    turns = (np.arctan2(j45, j0) / 2.0 - true_axis + math.pi / 2.0) % math.pi - math.pi / 2.0
    return math.degrees(math.sqrt(np.mean(turns**2)))


def stated(uncertainty: Uncertainty) -> list[float | None]:
    return [
        uncertainty.m_sd_d,
        uncertainty.j0_sd_d,
        uncertainty.j45_sd_d,
        uncertainty.sphere_sd_d,
        uncertainty.cylinder_sd_d,
        uncertainty.axis_sd_deg,
    ]


@pytest.mark.parametrize("eye", EYES, ids=str)
@pytest.mark.parametrize(
    "meridians", [(60, 120, 180), (45, 90, 135, 180), (10, 55, 80, 125, 170), (30, 30, 75, 120, 165)]
)
def test_three_or_more_meridians_against_simulation(
    eye: SpheroCylinder, meridians: tuple[float, ...]
) -> None:
    rng = np.random.default_rng(20260)
    angles = np.array(meridians) + rng.normal(0.0, MODEL.streak_sd_deg, (SAMPLES, len(meridians)))
    readings = noisy(rng, powers_along(eye, angles), MODEL)
    doubled = 2.0 * np.radians(np.array(meridians))
    design = np.stack([np.ones(len(meridians)), np.cos(doubled), np.sin(doubled)], axis=1)
    m, j0, j45 = np.linalg.lstsq(design, readings.T, rcond=None)[0]

    exact = [MeridianReading(angle, eye.power_along_d(angle)) for angle in meridians]
    closed = some(solve_readings(exact, errors=MODEL).uncertainty)

    # second-order terms of a 3-degree streak error add up to 1 % of the 4.50 D cylinder's errors
    assert stated(closed) == pytest.approx(spreads(m, j0, j45, eye), rel=SAMPLING + 0.02)


@pytest.mark.parametrize("eye", EYES, ids=str)
def test_two_meridians_against_simulation(eye: SpheroCylinder) -> None:
    """The examiner sets the streak off axis by the streak's own error and by what cannot be seen off axis."""
    rng = np.random.default_rng(20261)
    half = eye.vector.astigmatism_d
    unseen = MODEL.reading_sd_d / math.sqrt(2.0) / (2.0 * half)
    turn = rng.normal(0.0, math.hypot(math.radians(MODEL.streak_sd_deg), unseen), SAMPLES)
    axis = math.radians(some(eye.minus_cylinder().axis_deg)) + turn
    angles = np.degrees(np.stack([axis, axis + math.pi / 2.0], axis=1))
    readings = noisy(rng, powers_along(eye, angles), MODEL)
    m, along = readings.mean(axis=1), (readings[:, 0] - readings[:, 1]) / 2.0

    exact = [MeridianReading(angle, power) for angle, power in eye.power_cross()]
    closed = some(solve_readings(exact, errors=MODEL).uncertainty)

    simulated = spreads(m, along * np.cos(2.0 * axis), along * np.sin(2.0 * axis), eye)
    # Set off axis by d, the streak reads the cylinder cos 2d short, so J sideways is (r/2) sin 4d, whose
    # standard deviation is short of the first order's 2 r d by the fraction 8 d^2 (for normal d).
    assert stated(closed) == pytest.approx(simulated, rel=SAMPLING + 8.0 * float(np.var(turn)))


def matrix(rows: list[list[float]]) -> Matrix:
    """Three rows of three as the package takes them."""
    first, second, third = ((a, b, c) for a, b, c in rows)
    return first, second, third


COVARIANCES = {
    "round": [[0.01, 0, 0], [0, 0.01, 0], [0, 0, 0.01]],
    "leaning": [[0.02, 0.005, -0.004], [0.005, 0.03, 0.012], [-0.004, 0.012, 0.01]],
    "flat": [[0.02, 0.0, 0.0], [0.0, 0.05, 0.0], [0.0, 0.0, 0.002]],
}


@pytest.fixture(scope="module", name="normal")
def _normal() -> Array:
    """300,000 draws of three independent standard normal values, the same for every lens."""
    return np.random.default_rng(20262).standard_normal((3, 300_000))


@pytest.mark.parametrize("covariance", COVARIANCES.values(), ids=COVARIANCES.keys())
@pytest.mark.parametrize("cylinder", [-0.125, -0.25, -0.5, -1.0, -2.0, -5.0])
@pytest.mark.parametrize("axis", [20.0, 75.0, 180.0])
def test_axis_error_of_any_cylinder_against_simulation(
    covariance: list[list[float]], cylinder: float, axis: float, normal: Array
) -> None:
    """Down to cylinders far smaller than their error, where the first order says hundreds of degrees."""
    eye = SpheroCylinder(1.0, cylinder, axis)
    vector = eye.vector
    _, of_j0, of_j45 = np.linalg.cholesky(covariance) @ normal  # L z has the covariance L L'
    j0, j45 = vector.j0_d + of_j0, vector.j45_d + of_j45

    closed = propagate(vector, matrix(covariance))

    assert closed.axis_sd_deg == pytest.approx(axis_error_deg(j0, j45, eye), rel=0.035)


@pytest.mark.parametrize("cylinder", [-1e-6, -0.01])
def test_a_vanishing_cylinder_has_any_axis(cylinder: float) -> None:
    """An axis that may lie anywhere is uniform over 180 degrees: 180/sqrt(12) = 52."""
    readings = [MeridianReading(180, 1.0), MeridianReading(90, 1.0 + cylinder)]
    solution = solve_readings(readings, errors=ErrorModel())

    found = some(solution.uncertainty)
    assert found.axis_sd_deg == pytest.approx(180.0 / math.sqrt(12.0), rel=0.1)
    assert "axis unknown" in found.text(some(solution.exact))


def test_smaller_cylinders_have_wider_axes() -> None:
    widths = []
    for cylinder in (-0.25, -0.5, -1.0, -2.0, -4.0):
        readings = [MeridianReading(180, 1.0), MeridianReading(90, 1.0 + cylinder)]
        found = some(solve_readings(readings, errors=ErrorModel()).uncertainty)
        widths.append(some(found.axis_sd_deg))

    assert widths == sorted(widths, reverse=True)
    assert widths[0] > 3 * widths[-1]
    assert widths[-1] >= 3.0  # never better than the streak was set


def gum(vector: PowerVector, covariance: Array, form: Form) -> tuple[float, float, float]:
    """The same propagation by the `uncertainties` library, from the formulas for S, C and A."""
    m, j0, j45 = uncertainties.correlated_values([vector.m_d, vector.j0_d, vector.j45_d], covariance)
    half = umath.sqrt(j0 * j0 + j45 * j45)
    sphere = m + half if form == "minus" else m - half
    axis = umath.degrees(umath.atan2(j45, j0) / 2.0)
    return sphere.std_dev, (2.0 * half).std_dev, axis.std_dev


@repeatable
@given(
    lens=lenses().filter(lambda lens: abs(lens.cylinder_d) > 1.5),
    form=st.sampled_from(["minus", "plus"]),
    entries=st.lists(st.floats(-0.05, 0.05), min_size=9, max_size=9),
)
def test_first_order_agrees_with_the_uncertainties_library(
    lens: SpheroCylinder, form: Form, entries: list[float]
) -> None:
    root = np.array(entries).reshape(3, 3) + 0.02 * np.eye(3)
    covariance = root @ root.T

    closed = propagate(lens.vector, matrix(covariance.tolist()), form)

    sphere, cylinder, axis = gum(lens.vector, covariance, form)
    assert closed.sphere_sd_d == pytest.approx(sphere, rel=1e-6, abs=1e-9)
    assert closed.cylinder_sd_d == pytest.approx(cylinder, rel=1e-6, abs=1e-9)
    assert closed.axis_sd_deg == pytest.approx(axis, rel=0.05, abs=1e-9)  # the axis is beyond first order


def test_uncertainty_of_the_worked_example() -> None:
    """Quarter steps, 67 cm known to 2 cm, streak to 3 degrees; -1.00 -1.50 x 180. Worked by hand:
    one reading 0.25/sqrt(12) = 0.0722 and J 0.0722/sqrt(2) = 0.0510; allowance 0.02/0.67^2 = 0.0446;
    M sqrt(0.0510^2 + 0.0446^2) = 0.0677; S one reading with the allowance 0.0848; C 2 x 0.0510 = 0.1021;
    sideways sqrt(0.0510^2 + (1.5 x 3 pi/180)^2) = 0.0936, axis 0.0936/0.75/2 rad = 3.57 degrees."""
    model = ErrorModel(allowance_sd_d=WorkingDistance(0.67).allowance_sd_d)
    readings = [MeridianReading(180, 0.5), MeridianReading(90, -1.0)]

    solution = solve_readings(readings, 1.5, errors=model)

    found, exact = some(solution.uncertainty), some(solution.exact)
    assert found.m_sd_d == pytest.approx(0.0677, abs=1e-4)
    assert found.sphere_sd_d == pytest.approx(0.0848, abs=1e-4)
    assert found.cylinder_sd_d == pytest.approx(0.1021, abs=1e-4)
    assert found.axis_sd_deg == pytest.approx(3.57, abs=0.01)
    assert found.text(exact) == "-1.00 ± 0.2 -1.50 ± 0.3 x 180 ± 8"
    assert found.text(exact, 1.0) == "-1.00 ± 0.1 -1.50 ± 0.2 x 180 ± 4"


def test_plus_form_has_the_other_sphere() -> None:
    """S is one principal power in one form and the other in the other: equally uncertain here."""
    readings = [MeridianReading(180, 0.5), MeridianReading(90, 0.5), MeridianReading(90, -1.0)]
    minus = solve_readings(readings, errors=ErrorModel())
    plus = solve_readings(readings, errors=ErrorModel(), form="plus")

    assert some(minus.uncertainty).sphere_sd_d == pytest.approx(0.25 / math.sqrt(12.0))
    found = some(plus.uncertainty)
    assert found.sphere_sd_d == pytest.approx(0.25 / math.sqrt(24.0))  # two readings there
    assert found.text(some(plus.exact)).startswith("-0.25 ± 0.2 +0.75")


def test_a_sphere_states_the_cylinder_it_cannot_exclude() -> None:
    solution = solve_readings([MeridianReading(180, 2.0), MeridianReading(90, 2.0)], errors=ErrorModel())

    found = some(solution.uncertainty)
    assert found.axis_sd_deg is None
    assert found.text(some(solution.exact)) == "+2.00 ± 0.2, cylinder 0.00 ± 0.3"


def test_without_an_error_model_nothing_is_stated() -> None:
    assert solve_readings([MeridianReading(180, 2.0), MeridianReading(90, 2.0)]).uncertainty is None


def test_no_errors_no_uncertainty() -> None:
    none = ErrorModel(lens_step_d=0.0, streak_sd_deg=0.0)
    solution = solve_readings([MeridianReading(180, 2.0), MeridianReading(90, 1.0)], errors=none)

    assert stated(some(solution.uncertainty)) == [0.0] * 6


def test_more_readings_are_surer() -> None:
    eye = EYES[0]
    few = [MeridianReading(angle, eye.power_along_d(angle)) for angle in (60, 120, 180)]
    once = some(solve_readings(few, errors=MODEL).uncertainty)
    thrice = some(solve_readings(few * 3, errors=MODEL).uncertainty)

    assert thrice.cylinder_sd_d == pytest.approx(once.cylinder_sd_d / math.sqrt(3.0))
    assert thrice.m_sd_d > MODEL.allowance_sd_d  # the distance is wrong for all of them alike


def test_the_stated_interval_covers_what_it_says() -> None:
    """Two standard deviations either way hold the true sphere and cylinder in about 95 % of exams."""
    rng = np.random.default_rng(20263)
    eye = SpheroCylinder(-1.25, -2.25, 85.0)
    model = ErrorModel(allowance_sd_d=0.05, neutrality_sd_d=PUBLISHED_NEUTRALITY_SD_D)
    inside = np.zeros(3)
    exams = 1500
    for _ in range(exams):
        axis = normalise_axis_deg(85.0 + rng.normal(0.0, 6.2))  # 3 degrees and what cannot be seen off axis
        angles = np.array([[axis, normalise_axis_deg(axis + 90.0)]])
        powers = noisy(rng, powers_along(eye, angles), model)[0]
        pair = zip(angles[0].tolist(), powers.tolist(), strict=True)
        solution = solve_readings([MeridianReading(*reading) for reading in pair], errors=model)
        sure, found = some(solution.uncertainty), some(solution.exact)
        turn = (some(found.axis_deg) - some(eye.axis_deg) + 90.0) % 180.0 - 90.0
        inside += [
            abs(found.sphere_d - eye.sphere_d) < 2.0 * sure.sphere_sd_d,
            abs(found.cylinder_d - eye.cylinder_d) < 2.0 * sure.cylinder_sd_d,
            abs(turn) < 2.0 * some(sure.axis_sd_deg),
        ]

    # binomial spread of 1,500 exams is 0.6 %; uniform lens-step errors cover slightly more than normal ones
    assert np.all(np.abs(inside / exams - 0.955) < 0.02)


@pytest.mark.parametrize("name", ["lens_step_d", "allowance_sd_d", "streak_sd_deg", "neutrality_sd_d"])
def test_negative_errors_are_refused(name: str) -> None:
    with pytest.raises(ErrorModelError, match=f"{name} is -1"):
        ErrorModel(**{name: -1.0})


def test_vector_covariance_is_symmetric_and_reported() -> None:
    readings = [MeridianReading(angle, float(angle) / 90.0) for angle in (10, 55, 80, 125)]
    found = np.array(some(solve_readings(readings, errors=MODEL).uncertainty).covariance)

    assert found == pytest.approx(found.T)
    assert np.linalg.eigvalsh(found)[0] > 0.0
    assert propagate(PowerVector(0.0, 0.0, 0.0), matrix(found.tolist())).axis_sd_deg is None
