"""The vectorised solver against the scalar one and against numpy."""

import numpy as np
import pytest
from numpy.typing import ArrayLike

from tests.optics.many_solves import Array, solve_many
from tests.some import some
from voicelog.optics import (
    AxisError,
    MeridianReading,
    NotFiniteError,
    OpticsError,
    PowerRangeError,
    ShapeError,
    SpheroCylinder,
    axis_difference_deg,
    solve_readings,
)


def random_cases(seed: int, cases: int, readings: int) -> tuple[Array, Array]:
    rng = np.random.default_rng(seed)
    meridians = rng.integers(1, 181, (cases, readings)).astype(float)
    return meridians, rng.integers(-40, 41, (cases, readings)) / 4.0


@pytest.mark.parametrize("readings", [3, 4, 7])
def test_agrees_with_one_at_a_time(readings: int) -> None:
    """On whole meridians at least 11 degrees apart, which the one solver does not take together."""
    rng = np.random.default_rng(11)
    meridians = np.array([rng.permutation(np.arange(11, 181, 13))[:readings] for _ in range(200)], float)
    powers = np.round(rng.normal(1.0, 0.2, (200, readings)) * 4.0) / 4.0
    allowances = np.linspace(0.5, 2.5, 200)

    many = solve_many(meridians, powers, allowances)

    compared = 0
    for case in range(200):
        pairs = zip(meridians[case].tolist(), powers[case].tolist(), strict=True)
        exam = [MeridianReading(*pair) for pair in pairs]
        one = solve_readings(exam, float(allowances[case]))
        if one.problems or some(one.exact).axis_deg is None:
            continue
        exact, vector = some(one.exact), some(one.vector)
        compared += 1
        assert many.determined[case]
        found = [many.m_d[case], many.j0_d[case], many.j45_d[case]]
        assert found == pytest.approx([vector.m_d, vector.j0_d, vector.j45_d], abs=1e-9)
        assert many.sphere_d[case] == pytest.approx(exact.sphere_d, abs=1e-9)
        assert many.cylinder_d[case] == pytest.approx(exact.cylinder_d, abs=1e-9)
        assert axis_difference_deg(many.axis_deg[case], some(exact.axis_deg)) == pytest.approx(0.0, abs=1e-6)
        assert many.residual_d[case] == pytest.approx(one.residual_d, abs=1e-9)
    assert compared > 50


def test_agrees_with_numpy_least_squares() -> None:
    meridians, powers = random_cases(12, 1, 6)
    doubled = 2.0 * np.radians(meridians[0])
    design = np.stack([np.ones(6), np.cos(doubled), np.sin(doubled)], axis=1)

    many = solve_many(meridians[0], powers)

    expected = np.linalg.lstsq(design, powers[0], rcond=None)[0]
    assert [many.m_d[0], many.j0_d[0], many.j45_d[0]] == pytest.approx(expected.tolist(), abs=1e-9)


def test_a_thousand_random_refractions_come_back() -> None:
    rng = np.random.default_rng(13)
    eyes = [
        SpheroCylinder(float(s), float(c), float(a))
        for s, c, a in zip(
            rng.uniform(-15, 15, 1000), rng.uniform(-6, 0, 1000), rng.uniform(0.1, 180, 1000), strict=True
        )
    ]
    meridians = [20.0, 75.0, 130.0]
    powers = [[eye.power_along_d(angle) + 1.5 for angle in meridians] for eye in eyes]

    many = solve_many(meridians, powers, 1.5)

    assert many.sphere_d == pytest.approx([eye.sphere_d for eye in eyes], abs=1e-9)
    assert many.cylinder_d == pytest.approx([eye.cylinder_d for eye in eyes], abs=1e-9)


def test_two_perpendicular_meridians_and_repeats() -> None:
    many = solve_many(
        [[180, 90, 90], [180, 90, 180], [35, 125, 35]],
        [[0.5, -1.0, -2.0], [2.0, 2.0, 2.0], [1.0, 3.0, 1.5]],
        1.5,
    )

    assert many.determined.all()
    assert many.sphere_d == pytest.approx([-1.0, 0.5, 1.5])
    assert many.cylinder_d == pytest.approx([-2.0, 0.0, -1.75])
    assert many.axis_deg == pytest.approx([180.0, np.nan, 125.0], nan_ok=True)
    assert many.residual_d == pytest.approx([np.sqrt(0.5 / 3), 0.0, np.sqrt(0.125 / 3)])


def test_a_horizontal_axis_is_180_and_never_near_0() -> None:
    eye = SpheroCylinder(1.0, -2.0, 180.0)
    meridians = [[180, 60, 120], [180, 45, 90], [10, 70, 130], [1, 91, 46]]
    powers = [[eye.power_along_d(angle) for angle in case] for case in meridians]

    assert solve_many(meridians, powers).axis_deg.tolist() == [180.0] * 4


def test_undetermined_cases_are_marked_and_hold_no_numbers() -> None:
    many = solve_many([[180, 180, 180], [30, 90, 30], [10, 70, 130]], np.ones((3, 3)))

    assert many.determined.tolist() == [False, False, True]
    assert np.isnan(many.sphere_d[:2]).all()
    assert np.isnan(many.residual_d[:2]).all()
    assert solve_many([90.0], [[1.0]]).determined.tolist() == [False]


def test_no_cases_give_empty_arrays() -> None:
    assert solve_many([180, 90], np.empty((0, 2))).sphere_d.shape == (0,)


@pytest.mark.parametrize(
    ("arguments", "error", "words"),
    [
        (([180, 90], [1.0, 2.0]), ShapeError, "powers have shape"),
        (([180, 90, 45], [[1.0, 2.0]]), ShapeError, "meridians have shape"),
        (([180, 90], [[1.0, 2.0]], [1.5, 1.5]), ShapeError, "allowances have shape"),
        (([180, 90], np.empty((3, 0))), ShapeError, "powers have shape"),
        (([180, 90], [[1.0, np.nan]]), NotFiniteError, "powers hold"),
        (([180, np.inf], [[1.0, 2.0]]), NotFiniteError, "meridians hold"),
        (([180, 90], [[1.0, 2.0]], np.nan), NotFiniteError, "allowances hold"),
        (([180, 90], [[1.0, -41.0]]), PowerRangeError, "reach 41.00 D"),
        (([181, 90], [[1.0, 2.0]]), AxisError, "181; allowed is 1 to 180"),
        (([0, 90], [[1.0, 2.0]]), AxisError, "0; allowed is 1 to 180"),
    ],
)
def test_bad_arrays_raise_named_errors(
    arguments: tuple[ArrayLike, ...], error: type[OpticsError], words: str
) -> None:
    with pytest.raises(error, match=words):
        solve_many(*arguments)
