"""Rounding: nearest in power-vector space, checked against every writable lens nearby."""

import itertools
import math
from collections.abc import Iterator

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.optics.optics_cases import any_axes, apart_d, lenses, repeatable, thorough
from tests.some import some
from voicelog.optics import (
    Form,
    PowerVector,
    SpheroCylinder,
    StepError,
    axis_difference_deg,
    normalise_axis_deg,
    round_power_d,
    round_refraction,
)

SLACK_D = 1e-7  # half-way cases may be decided either way within this

steps = st.tuples(st.sampled_from([0.25, 0.125, 0.5]), st.sampled_from([1, 2, 5, 10]))


def nearby_writable(vector: PowerVector, power_step: float, axis_step: int) -> Iterator[SpheroCylinder]:
    """Every writable lens with sphere, cylinder and axis within a few steps of the exact ones."""
    lens = vector.to_sphero_cylinder("minus")
    sphere, cylinder = round(lens.sphere_d / power_step), round(lens.cylinder_d / power_step)
    axis = round((lens.axis_deg or 180.0) / axis_step)
    for ds, dc, da in itertools.product(range(-2, 3), range(-2, 3), range(-1, 2)):
        angle = normalise_axis_deg((axis + da) * axis_step)
        yield SpheroCylinder((sphere + ds) * power_step, (cylinder + dc) * power_step, angle)


@thorough
@given(lens=lenses(largest_d=12.0), step=steps, form=st.sampled_from(["minus", "plus"]))
def test_no_writable_lens_is_nearer(lens: SpheroCylinder, step: tuple[float, int], form: Form) -> None:
    power_step, axis_step = step
    rounded = round_refraction(lens, power_step, axis_step, form)

    nearest = min(apart_d(other, lens) for other in nearby_writable(lens.vector, power_step, axis_step))
    assert apart_d(rounded, lens) <= nearest + SLACK_D


@repeatable
@given(lens=lenses(largest_d=12.0), step=steps, form=st.sampled_from(["minus", "plus"]))
def test_the_result_is_writable(lens: SpheroCylinder, step: tuple[float, int], form: Form) -> None:
    power_step, axis_step = step
    rounded = round_refraction(lens, power_step, axis_step, form)

    assert math.fmod(rounded.sphere_d, power_step) == 0.0
    assert math.fmod(rounded.cylinder_d, power_step) == 0.0
    assert rounded.cylinder_d <= 0.0 if form == "minus" else rounded.cylinder_d >= 0.0
    if rounded.axis_deg is not None:
        assert rounded.axis_deg == int(rounded.axis_deg)
        assert rounded.axis_deg % axis_step == 0


@thorough
@given(lens=lenses(largest_d=12.0), step=steps)
def test_along_the_written_meridians_power_moves_at_most_half_a_step(
    lens: SpheroCylinder, step: tuple[float, int]
) -> None:
    """The sense stated in `round_refraction`, with the bound for the meridians in between."""
    power_step, axis_step = step
    rounded = round_refraction(lens, power_step, axis_step)

    for meridian_deg, power in rounded.power_cross():
        if rounded.axis_deg is not None or lens.axis_deg is None:
            assert abs(lens.power_along_d(meridian_deg) - power) <= power_step / 2.0 + SLACK_D
    turn = axis_step / 2.0  # of a cylinder rounded away: at most to the nearest axis step
    if rounded.axis_deg is not None and lens.axis_deg is not None:
        turn = abs(axis_difference_deg(rounded.axis_deg, some(lens.minus_cylinder().axis_deg)))
    allowed = power_step / 2.0 + abs(lens.cylinder_d) / 2.0 * math.sin(math.radians(2.0 * turn))
    for angle in range(1, 181, 7):
        assert abs(lens.power_along_d(angle) - rounded.power_along_d(angle)) <= allowed + SLACK_D


@repeatable
@given(lens=lenses(largest_d=12.0), step=steps)
def test_rounding_twice_changes_nothing(lens: SpheroCylinder, step: tuple[float, int]) -> None:
    once = round_refraction(lens, *step)

    assert round_refraction(once, *step) == once


@repeatable
@given(lens=lenses(largest_d=12.0), step=steps)
def test_both_forms_are_the_same_lens(lens: SpheroCylinder, step: tuple[float, int]) -> None:
    minus, plus = round_refraction(lens, *step), round_refraction(lens, *step, "plus")

    assert plus.minus_cylinder() == minus
    assert round_refraction(lens.transposed(), *step) == minus


@repeatable
@given(lens=lenses(largest_d=12.0))
def test_a_writable_lens_stays(lens: SpheroCylinder) -> None:
    written = SpheroCylinder(
        round(lens.sphere_d * 4) / 4, round(lens.cylinder_d * 4) / 4, float(math.ceil(lens.axis_deg or 180))
    )

    assert round_refraction(written) == written.minus_cylinder()


@repeatable
@given(axis=any_axes)
def test_a_sphere_has_no_axis_after_rounding(axis: float) -> None:
    assert round_refraction(SpheroCylinder(1.01, -0.05, axis)).axis_deg is None


@pytest.mark.parametrize(
    ("power", "expected"),
    [(0.125, 0.25), (-0.125, 0.0), (0.375, 0.5), (-0.375, -0.25), (-0.4925, -0.5), (1.0 / 0.67, 1.5)],
)
def test_half_way_goes_to_the_more_plus(power: float, expected: float) -> None:
    assert round_power_d(power) == expected
    assert round_refraction(SpheroCylinder(power)).sphere_d == expected


def test_half_way_is_not_decided_by_the_last_digit() -> None:
    """0.1 + 0.025 is 0.125 written another way; both must round alike."""
    assert round_power_d(0.1 + 0.025) == round_power_d(0.125 - 1e-15) == 0.25


def test_half_way_axis_goes_to_the_larger() -> None:
    assert round_refraction(SpheroCylinder(0.0, -2.0, 84.5)).axis_deg == 85.0
    assert round_refraction(SpheroCylinder(0.0, -2.0, 82.5), axis_step_deg=5).axis_deg == 85.0
    assert round_refraction(SpheroCylinder(0.0, -2.0, 0.4)).axis_deg == 180.0
    assert round_refraction(SpheroCylinder(0.0, -2.0, 179.5)).axis_deg == 180.0


@pytest.mark.parametrize("step", [0.0, -0.25, 2.0])
def test_unusable_power_steps_are_refused(step: float) -> None:
    with pytest.raises(StepError, match="power step"):
        round_refraction(SpheroCylinder(1.0), step)


@pytest.mark.parametrize("step", [0, 4, 7, -5, 90])
def test_unusable_axis_steps_are_refused(step: int) -> None:
    with pytest.raises(StepError, match="axis step"):
        round_refraction(SpheroCylinder(1.0), axis_step_deg=step)
