"""What a solved eye predicts of the next look, against NumPy; and the share of a cylinder along a meridian."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from tests.optics.optics_cases import any_axes, lenses, repeatable
from voicelog.optics import (
    USUAL_ERRORS,
    ErrorModelError,
    Look,
    Motion,
    SpheroCylinder,
    cylinder_share,
    fits,
    in_region,
    predicted,
    solve_looks,
)

PAIR = solve_looks(
    [Look(90, 3.0, "neutral"), Look(180, 1.5, "neutral")], errors=USUAL_ERRORS, allowance_d=1.5
)


@repeatable
@given(eye=lenses(largest_d=8.0), meridian=any_axes)
def test_prediction_and_spread_are_those_of_least_squares(eye: SpheroCylinder, meridian: float) -> None:
    named = np.array([20.0, 65.0, 110.0, 155.0])
    design = np.stack([np.ones(4), np.cos(np.radians(2 * named)), np.sin(np.radians(2 * named))], axis=1)
    row = np.array([1.0, math.cos(math.radians(2 * meridian)), math.sin(math.radians(2 * meridian))])
    seen = [Look(angle, eye.power_along_d(angle) + 1.5, "neutral") for angle in named.tolist()]

    found = predicted(solve_looks(seen, allowance_d=1.5, errors=USUAL_ERRORS), meridian)

    half, axis = eye.cylinder_d / 2.0, math.radians(eye.axis_deg or 180.0)
    slopes = 2.0 * half * np.sin(2.0 * (np.radians(named) - axis))
    variances = USUAL_ERRORS.reading_sd_d**2 + (slopes * math.radians(USUAL_ERRORS.streak_sd_deg)) ** 2
    weights = row @ np.linalg.pinv(design)
    assert found is not None
    assert found[0] == pytest.approx(eye.power_along_d(meridian) + 1.5, abs=1e-9)
    assert found[1] == pytest.approx(math.sqrt(float(weights**2 @ variances)), rel=1e-6)


def test_the_working_distance_is_not_part_of_it() -> None:
    """The next look shares its error."""
    assert predicted(PAIR, 90) == pytest.approx((3.0, USUAL_ERRORS.reading_sd_d))


@pytest.mark.parametrize(
    ("meridian", "power", "motion", "like"),
    [
        (90, 3.75, "neutral", True),
        (90, 4.25, "neutral", False),
        (180, -2.75, "neutral", False),  # what a recogniser made of "streak vertical plus 1.75"
        (5, 1.75, "neutral", True),
        (45, 2.25, "neutral", True),
        (45, 3.75, "neutral", False),
        (45, 0.75, "neutral", False),
        (45, 3.75, "with", False),
        (45, 3.75, "against", True),
        (45, 0.75, "against", False),
        (45, 0.75, "with", True),
    ],
)
def test_what_is_unlike_a_solved_eye_is_asked_about(
    meridian: float, power: float, motion: Motion, like: bool
) -> None:
    assert (fits(PAIR, Look(meridian, power, motion), USUAL_ERRORS) is None) == like


def test_the_question_says_what_is_expected() -> None:
    problem = fits(PAIR, Look(180, -2.75, "neutral"), USUAL_ERRORS)

    assert problem is not None
    assert problem.code == "unlike_prediction"
    assert problem.text == (
        "-2.75 neutral in the 180 meridian is unlike the looks so far, which give +1.50 ± 0.6 there"
    )


def test_before_the_eye_is_solved_a_meridian_predicts_itself_alone() -> None:
    once = solve_looks([Look(90, 3.0, "neutral"), Look(180, 1.0, "with"), Look(180, 1.5, "against")])

    assert predicted(once, 95) == (3.0, USUAL_ERRORS.reading_sd_d)
    assert predicted(once, 45) is None
    assert fits(once, Look(45, 30.0, "neutral")) is None
    assert fits(once, Look(90, 4.5, "neutral")) is not None
    between = predicted(once, 5)
    assert between is not None
    assert between[0] == 1.25
    assert fits(once, Look(180, 1.75, "neutral")) is None
    assert fits(once, Look(180, 2.75, "neutral")) is not None


@pytest.mark.parametrize("chance", [0.2, 0.05])
def test_the_chance_of_asking_about_a_true_look(chance: float) -> None:
    """Four true readings, then a fifth: asked about in that share of exams."""
    rng = np.random.default_rng(5)
    exams, asked = 1500, 0
    for _ in range(exams):
        noise = rng.normal(0.0, USUAL_ERRORS.reading_sd_d, 5).tolist()
        seen = [Look(a, 2.0 + e, "neutral") for a, e in zip((45.0, 90.0, 135.0, 180.0), noise, strict=False)]
        so_far = solve_looks(seen, errors=USUAL_ERRORS)
        if so_far.status == "solved":
            asked += fits(so_far, Look(20.0, 2.0 + noise[4], "neutral"), USUAL_ERRORS, chance) is not None

    assert stats.binomtest(asked, exams, chance).pvalue > 1e-4


@repeatable
@given(eye=lenses(largest_d=12.0), meridian=any_axes)
def test_the_share_of_a_cylinder_is_its_power_along_the_meridian(
    eye: SpheroCylinder, meridian: float
) -> None:
    """Against the sag of a wavefront's section: the share is the curvature of (across)^2 / 2 along the meridian."""
    axis = eye.axis_deg or 180.0
    along = np.linspace(-1.0, 1.0, 5)
    angle, turn = math.radians(meridian), math.radians(axis)
    sag = (-along * math.cos(angle) * math.sin(turn) + along * math.sin(angle) * math.cos(turn)) ** 2 / 2.0

    assert cylinder_share(axis, meridian) == pytest.approx(2.0 * np.polyfit(along, sag, 2)[0], abs=1e-9)


def test_along_its_axis_a_cylinder_has_no_power() -> None:
    assert cylinder_share(90, 90) == 0.0
    assert cylinder_share(180, 180) == 0.0
    assert cylinder_share(90, 180) == pytest.approx(1.0)
    assert cylinder_share(90, 80) == pytest.approx(math.sin(math.radians(10.0)) ** 2)


def test_a_region_needs_an_error_model() -> None:
    with pytest.raises(ErrorModelError, match="states no uncertainty"):
        in_region(solve_looks([Look(90, 3.0, "neutral"), Look(180, 1.5, "neutral")]), SpheroCylinder(1.0))


@repeatable
@given(coverage=st.floats(0.5, 0.99))
def test_the_region_holds_the_result_and_grows_with_its_coverage(coverage: float) -> None:
    assert PAIR.exact is not None
    assert in_region(PAIR, PAIR.exact, coverage)
    steps = [SpheroCylinder(1.5 + off / 20.0, -1.5, 90.0) for off in range(60)]
    inside = [in_region(PAIR, step, coverage) for step in steps]
    assert inside == sorted(inside, reverse=True)
    assert sum(inside) <= sum(in_region(PAIR, step, 0.995) for step in steps)
