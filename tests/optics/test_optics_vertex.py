"""Vertex distance and stacked lenses, against ray tracing and each other."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.optics.many_solves import Array
from tests.optics.optics_cases import apart_d, lenses, repeatable
from tests.some import some
from voicelog.optics import (
    PowerRangeError,
    SeparationError,
    SpheroCylinder,
    combine,
    effective_power_d,
    move_refraction,
    stack_lenses,
)


@repeatable
@given(power=st.floats(-20.0, 20.0), shift=st.floats(-0.02, 0.02))
def test_moving_keeps_the_far_point(power: float, shift: float) -> None:
    """The focus 1/F from the old plane is the same point seen from the new one."""
    moved = effective_power_d(power, shift)
    if abs(power) > 0.01:
        assert 1.0 / moved == pytest.approx(1.0 / power - shift, rel=1e-9)
    else:
        assert moved == pytest.approx(power, abs=1e-5)


@repeatable
@given(lens=lenses(largest_d=12.0), shift=st.floats(-0.02, 0.02))
def test_moving_there_and_back(lens: SpheroCylinder, shift: float) -> None:
    assert apart_d(move_refraction(move_refraction(lens, shift), -shift), lens) < 1e-9


@repeatable
@given(lens=lenses(largest_d=12.0), shift=st.floats(-0.02, 0.02))
def test_moving_does_not_depend_on_the_form(lens: SpheroCylinder, shift: float) -> None:
    assert apart_d(move_refraction(lens, shift), move_refraction(lens.transposed(), shift)) < 1e-9


def back_vertex_by_rays(stack: list[SpheroCylinder], gaps: list[float]) -> Array:
    """Trace two independent paraxial rays, parallel to the axis, through lenses and gaps.

    A thin lens turns a ray at (x, y) by -F (x, y); back vertex power is minus slope over height at exit.
    """
    heights, slopes = np.eye(2), np.zeros((2, 2))
    for index, lens in enumerate(stack):
        axis = math.radians(lens.axis_deg or 180.0)
        s, c = math.sin(axis), math.cos(axis)
        power = lens.sphere_d * np.eye(2) + lens.cylinder_d * np.array([[s * s, -s * c], [-s * c, c * c]])
        slopes = slopes - power @ heights
        if index < len(gaps):
            heights = heights + gaps[index] * slopes
    return -slopes @ np.linalg.inv(heights)


@repeatable
@given(
    stack=st.lists(lenses(largest_d=10.0), min_size=2, max_size=4),
    gaps=st.lists(st.floats(0.0, 0.012), min_size=3, max_size=3),
)
def test_stacked_lenses_agree_with_ray_tracing(stack: list[SpheroCylinder], gaps: list[float]) -> None:
    used = gaps[: len(stack) - 1]
    found = stack_lenses(stack, used)

    assert found.effective.vector.matrix == pytest.approx(back_vertex_by_rays(stack, used), abs=1e-8)
    assert apart_d(found.thin_sum, combine(stack)) < 1e-9
    around = [
        abs(found.effective.power_along_d(angle) - found.thin_sum.power_along_d(angle))
        for angle in range(1, 181)
    ]
    assert max(around) - 1e-9 <= found.difference_d <= max(around) * 1.001 + 1e-9


@repeatable
@given(stack=st.lists(lenses(largest_d=8.0), max_size=4))
def test_touching_lenses_simply_add(stack: list[SpheroCylinder]) -> None:
    found = stack_lenses(stack)

    assert apart_d(found.effective, combine(stack)) < 1e-9
    assert found.problem is None


def test_the_difference_is_shown_above_an_eighth() -> None:
    weak = stack_lenses([SpheroCylinder(4.0), SpheroCylinder(0.0, -1.0, 90.0)], [0.0035])
    strong = stack_lenses([SpheroCylinder(10.0), SpheroCylinder(0.0, -1.0, 90.0)], [0.0035])

    assert weak.difference_d < 0.12
    assert weak.problem is None
    problem = some(strong.problem)
    assert problem.code == "stacking"
    assert problem.text == (
        "the stacked lenses act as +10.36 -1.00 x 090, not +10.00 -1.00 x 090: up to +0.36 D apart"
    )


@pytest.mark.parametrize("gaps", [[], [0.01, 0.01], [-0.001], [0.3]])
def test_unusable_separations_are_refused(gaps: list[float]) -> None:
    with pytest.raises(SeparationError):
        stack_lenses([SpheroCylinder(1.0), SpheroCylinder(1.0)], gaps)


def test_a_focus_at_the_next_plane_is_refused() -> None:
    with pytest.raises(SeparationError, match="focus"):
        effective_power_d(10.0, 0.1)
    with pytest.raises(SeparationError, match="focus"):
        stack_lenses([SpheroCylinder(10.0), SpheroCylinder(1.0)], [0.1])
    with pytest.raises(PowerRangeError, match="new plane"):
        effective_power_d(20.0, 0.03)
    with pytest.raises(SeparationError, match=r"allowed is up to 0\.2 m"):
        effective_power_d(1.0, 12.0)  # millimetres taken for metres


def test_no_lenses_are_plano() -> None:
    assert stack_lenses([]).effective == SpheroCylinder(0.0)
