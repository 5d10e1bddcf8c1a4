"""Near and dynamic retinoscopy."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.optics.optics_cases import lenses, repeatable
from voicelog.optics import (
    DistanceError,
    NotFiniteError,
    OpticsError,
    PowerRangeError,
    Response,
    SpheroCylinder,
    WorkingDistance,
    dark_refraction,
    estimate_lag_d,
    nott_lag_d,
)

distances_m = st.floats(0.1, 2.0)


@repeatable
@given(target=distances_m, neutral=distances_m)
def test_neutral_behind_the_target_is_a_lag_and_before_it_a_lead(target: float, neutral: float) -> None:
    lag = nott_lag_d(target, neutral)

    assert (lag > 0) == (neutral > target)
    assert lag == -nott_lag_d(neutral, target)
    assert lag == pytest.approx(
        WorkingDistance(target, 0).allowance_d - WorkingDistance(neutral, 0).allowance_d
    )


@repeatable
@given(target=distances_m, neutral=distances_m)
def test_the_response_focuses_where_neutral_was_seen(target: float, neutral: float) -> None:
    """Neutral is seen from the plane the eye is focused on: the accommodation in use is its inverse distance."""
    response = Response(1 / target, nott_lag_d(target, neutral))

    assert response.response_d == pytest.approx(1 / neutral)


@repeatable
@given(gross=lenses(), adjustment=st.floats(0, 2))
def test_the_adjustment_comes_off_every_meridian_once(gross: SpheroCylinder, adjustment: float) -> None:
    net = dark_refraction(gross, adjustment)

    for meridian in (1, 45, 90, 133, 180):
        expected = gross.power_along_d(meridian) - adjustment
        assert net.power_along_d(meridian) == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize(
    ("make", "error", "words"),
    [
        (lambda: nott_lag_d(40, 50), DistanceError, "target distance is 40 m"),
        (lambda: nott_lag_d(0.4, 0), DistanceError, "distance of neutral is 0 m"),
        (lambda: nott_lag_d(0.4, float("nan")), NotFiniteError, "distance of neutral"),
        (lambda: estimate_lag_d(41), PowerRangeError, "neutralising lens"),
        (lambda: dark_refraction(SpheroCylinder(1.0), -1.25), PowerRangeError, "adjustment is -1.25"),
    ],
)
def test_what_cannot_be_is_refused(make: Callable[[], object], error: type[OpticsError], words: str) -> None:
    with pytest.raises(error, match=words):
        make()


def test_the_lens_of_the_monocular_estimate_is_the_lag_itself() -> None:
    """Nothing is taken off for the distance of 40 cm: that would be a lead of 2 D."""
    assert estimate_lag_d(0.5) == 0.5
    assert Response(2.5, estimate_lag_d(-0.25)).response_d == 2.75
