"""Working distance, its allowance, and slips of the allowance."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.optics.optics_cases import lenses, repeatable
from tests.some import some
from voicelog.optics import (
    DistanceError,
    MeridianReading,
    NotFiniteError,
    SpheroCylinder,
    WorkingDistance,
    allowance_slip,
    solve_readings,
)


@repeatable
@given(distance=st.floats(0.05, 6.0), sd=st.floats(0.0, 0.04))
def test_allowance_and_its_spread_are_the_derivative(distance: float, sd: float) -> None:
    working = WorkingDistance(distance, sd)
    step = 1e-6 * distance

    slope = abs(1.0 / (distance + step) - 1.0 / (distance - step)) / (2.0 * step)

    assert working.allowance_d * distance == pytest.approx(1.0)
    assert working.allowance_sd_d == pytest.approx(slope * sd, rel=1e-6, abs=1e-12)


@pytest.mark.parametrize("distance", [0.0, -0.67, 0.049, 6.01, 67.0])
def test_unusable_distances_are_refused(distance: float) -> None:
    with pytest.raises(DistanceError, match=r"working distance is .* m; allowed is 0\.05 to 6 m"):
        WorkingDistance(distance)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "0.67", None])
def test_a_distance_that_is_no_number_is_refused(value: object) -> None:
    with pytest.raises(NotFiniteError, match="working distance"):
        WorkingDistance(value)  # type: ignore[arg-type]


@pytest.mark.parametrize("sd", [-0.01, 0.67, 1.0])
def test_an_unusable_spread_is_refused(sd: float) -> None:
    with pytest.raises(DistanceError, match="distance uncertainty"):
        WorkingDistance(0.67, sd)


def test_a_power_said_as_a_distance_is_questioned() -> None:
    problem = some(WorkingDistance(1.5).check())

    assert problem.code == "unusual_distance"
    assert "0.667 m" in problem.text
    assert WorkingDistance(0.1).check() is not None
    assert WorkingDistance(0.67).check() is None


@repeatable
@given(
    eye=lenses(largest_d=12.0),
    allowance=st.sampled_from([1.5, 2.0, 1.0 / 0.67]),
    slip=st.sampled_from(["forgotten", "taken_twice", None]),
    turn=st.floats(0.05, 0.25),
)
def test_slips_of_the_allowance_are_told_from_ordinary_differences(
    eye: SpheroCylinder, allowance: float, slip: str | None, turn: float
) -> None:
    """Solve an exam of the eye with and without the slip, against a reference a little off."""
    taken = {"forgotten": 0.0, "taken_twice": 2.0 * allowance, None: allowance}[slip]
    readings = [MeridianReading(angle, power + allowance) for angle, power in eye.power_cross()]
    solved = some(solve_readings(readings, taken).exact)
    reference = SpheroCylinder(eye.sphere_d + turn, eye.cylinder_d, eye.axis_deg)

    problem = allowance_slip(solved, reference, allowance)

    assert (problem.code if problem else None) == (f"allowance_{slip}" if slip else None)
    if problem:
        assert some(slip).replace("_", " ") in problem.text
        assert ("more plus" if slip == "forgotten" else "more minus") in problem.text


def test_a_different_cylinder_is_not_a_slip() -> None:
    assert allowance_slip(SpheroCylinder(1.5), SpheroCylinder(0.0, -1.0, 90), 1.5) is None
    assert allowance_slip(SpheroCylinder(1.5), SpheroCylinder(0.0), 1.5) is not None


def test_an_allowance_no_larger_than_usual_differences_cannot_be_judged() -> None:
    assert allowance_slip(SpheroCylinder(0.5), SpheroCylinder(0.0), 0.5) is None
