"""Written forms, power vectors and matrices: round trips and identities on random lenses."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.optics.optics_cases import any_axes, apart_d, lenses, repeatable, whole_axes
from tests.some import some
from voicelog.optics import (
    AxisError,
    CrossedCylinders,
    Form,
    PowerVector,
    ShapeError,
    SpheroCylinder,
    axis_difference_deg,
    combine,
    difference,
    from_written_power_d,
    meridian_to_streak_deg,
    normalise_axis_deg,
    perpendicular_deg,
    streak_to_meridian_deg,
    written_axis,
    written_power,
)

ROUNDING_D = 1e-9  # powers to 40 D in double precision, a few operations: 1e-14 expected


@repeatable
@given(lens=lenses(), form=st.sampled_from(["minus", "plus"]))
def test_power_vector_round_trip(lens: SpheroCylinder, form: Form) -> None:
    back = lens.vector.to_sphero_cylinder(form)

    assert apart_d(back, lens) < ROUNDING_D
    assert back.cylinder_d <= 0.0 if form == "minus" else back.cylinder_d >= 0.0


@repeatable
@given(lens=lenses())
def test_power_vector_round_trip_gives_the_same_numbers(lens: SpheroCylinder) -> None:
    """Sphere, cylinder and axis themselves come back, not only an equivalent lens."""
    back = lens.vector.to_sphero_cylinder("plus" if lens.cylinder_d > 0 else "minus")

    assert back.sphere_d == pytest.approx(lens.sphere_d, abs=ROUNDING_D)
    assert back.cylinder_d == pytest.approx(lens.cylinder_d, abs=ROUNDING_D)
    if lens.axis_deg is None:
        assert back.axis_deg is None
    elif abs(lens.cylinder_d) > 1e-3:
        assert axis_difference_deg(some(back.axis_deg), lens.axis_deg) == pytest.approx(0.0, abs=1e-6)


@repeatable
@given(lens=lenses())
def test_power_matrix_round_trip(lens: SpheroCylinder) -> None:
    assert apart_d(PowerVector.from_matrix(lens.vector.matrix), lens) < ROUNDING_D


@repeatable
@given(lens=lenses())
def test_transposition_is_its_own_inverse(lens: SpheroCylinder) -> None:
    once = lens.transposed()

    assert apart_d(once, lens) < ROUNDING_D
    assert once.cylinder_d == -lens.cylinder_d
    twice = once.transposed()
    assert twice.sphere_d == pytest.approx(lens.sphere_d, abs=1e-12)
    assert twice.axis_deg == pytest.approx(lens.axis_deg, abs=1e-9)


@repeatable
@given(lens=lenses())
def test_transposing_quarter_steps_and_whole_axes_is_exact(lens: SpheroCylinder) -> None:
    exact = SpheroCylinder(
        round(lens.sphere_d * 4) / 4, round(lens.cylinder_d * 4) / 4, math.ceil(lens.axis_deg or 180.0)
    )

    assert exact.transposed().transposed() == exact


@repeatable
@given(lens=lenses(), form=st.sampled_from(["minus", "plus"]))
def test_crossed_cylinders_round_trip(lens: SpheroCylinder, form: Form) -> None:
    crossed = lens.crossed_cylinders()

    assert apart_d(crossed.to_sphero_cylinder(form), lens) < ROUNDING_D
    first = SpheroCylinder(0.0, crossed.first_d, crossed.first_axis_deg)
    second = SpheroCylinder(0.0, crossed.second_d, crossed.second_axis_deg)
    assert apart_d(combine([first, second]), lens) < ROUNDING_D


@repeatable
@given(lens=lenses(), meridian_deg=any_axes)
def test_three_ways_to_the_power_along_a_meridian(lens: SpheroCylinder, meridian_deg: float) -> None:
    """S + C sin^2, the power vector and the matrix n'Fn are different formulas for one number."""
    direction = np.array([math.cos(math.radians(meridian_deg)), math.sin(math.radians(meridian_deg))])

    from_matrix = direction @ lens.vector.matrix @ direction

    assert lens.power_along_d(meridian_deg) == pytest.approx(from_matrix, abs=ROUNDING_D)
    assert lens.vector.power_along_d(meridian_deg) == pytest.approx(from_matrix, abs=ROUNDING_D)


@repeatable
@given(lens=lenses())
def test_power_cross_holds_the_extreme_powers(lens: SpheroCylinder) -> None:
    around = [lens.power_along_d(angle) for angle in range(1, 181)]

    powers = [power for _, power in lens.power_cross()]

    assert min(powers) <= min(around) + ROUNDING_D
    assert max(powers) >= max(around) - ROUNDING_D
    for meridian_deg, power in lens.power_cross():
        assert lens.power_along_d(meridian_deg) == pytest.approx(power, abs=ROUNDING_D)


@repeatable
@given(one=lenses(), other=lenses(), meridian_deg=any_axes)
def test_thin_lenses_add_along_every_meridian(
    one: SpheroCylinder, other: SpheroCylinder, meridian_deg: float
) -> None:
    together = combine([one, other])

    expected = one.power_along_d(meridian_deg) + other.power_along_d(meridian_deg)
    assert together.power_along_d(meridian_deg) == pytest.approx(expected, abs=ROUNDING_D)


@repeatable
@given(lens=lenses())
def test_vector_algebra(lens: SpheroCylinder) -> None:
    vector = lens.vector

    assert (vector - vector).blur_strength_d == 0.0
    assert (vector + (-vector)).blur_strength_d == 0.0
    assert apart_d(2.0 * vector, vector + vector) < ROUNDING_D
    assert lens.spherical_equivalent_d == pytest.approx(vector.m_d, abs=ROUNDING_D)


@repeatable
@given(lens=lenses())
def test_blur_strength_is_the_root_mean_square_power_scaled(lens: SpheroCylinder) -> None:
    """Mean of F(t)^2 over the meridians is M^2 + J^2/2: an independent road to |J| and the length."""
    mean_square = sum(lens.power_along_d(angle) ** 2 for angle in range(1, 181)) / 180.0

    vector = lens.vector
    assert vector.m_d**2 + vector.astigmatism_d**2 / 2.0 == pytest.approx(mean_square, abs=1e-8)
    assert vector.blur_strength_d**2 == pytest.approx(
        vector.m_d**2 + vector.astigmatism_d**2, rel=1e-12, abs=1e-15
    )


@repeatable
@given(one=lenses(), other=lenses())
def test_difference_is_the_lens_to_add_and_ignores_the_form(
    one: SpheroCylinder, other: SpheroCylinder
) -> None:
    gap = difference(one, other)

    assert apart_d(other.vector + gap.vector, one) < ROUNDING_D
    assert gap.blur_strength_d == pytest.approx(difference(other, one).blur_strength_d, abs=ROUNDING_D)
    assert apart_d(difference(one.transposed(), other).vector, gap.vector) < ROUNDING_D
    sampled = max(abs(gap.vector.power_along_d(angle)) for angle in range(1, 181))
    assert gap.largest_power_d >= sampled - ROUNDING_D
    assert gap.largest_power_d <= sampled + 0.01  # sampled at whole degrees only


def test_written_differences_compare_like_with_like() -> None:
    """A plus-cylinder lens is compared by its minus-cylinder numbers."""
    gap = difference(SpheroCylinder(1.0, 0.5, 90.0), SpheroCylinder(1.25, -1.0, 178.0))

    assert (gap.sphere_d, gap.cylinder_d, gap.axis_deg) == (0.25, 0.5, 2.0)


def test_difference_of_written_numbers() -> None:
    gap = difference(SpheroCylinder(1.0, -0.5, 178.0), SpheroCylinder(1.25, -1.0, 3.0))

    assert (gap.sphere_d, gap.cylinder_d, gap.axis_deg) == (-0.25, 0.5, -5.0)
    assert difference(SpheroCylinder(1.0), SpheroCylinder(1.25, -1.0, 3.0)).axis_deg is None


@repeatable
@given(axis=whole_axes)
def test_streak_and_meridian_are_at_right_angles_and_inverse(axis: float) -> None:
    meridian = streak_to_meridian_deg(axis)

    assert abs(axis_difference_deg(meridian, axis)) == 90.0
    assert meridian_to_streak_deg(meridian) == axis
    assert perpendicular_deg(perpendicular_deg(axis)) == axis


@repeatable
@given(angle=st.floats(-1e4, 1e4))
def test_normalise_axis_folds_into_the_half_turn(angle: float) -> None:
    folded = normalise_axis_deg(angle)

    assert 0.0 < folded <= 180.0
    turns = (angle - folded) / 180.0
    assert turns == pytest.approx(round(turns), abs=1e-9)


@pytest.mark.parametrize(
    ("angle", "expected"),
    [(0, 180.0), (180, 180.0), (360, 180.0), (-5, 175.0), (181, 1.0), (-1e-20, 180.0), (270, 90.0)],
)
def test_normalise_axis_at_the_seam(angle: float, expected: float) -> None:
    assert normalise_axis_deg(angle) == expected


@pytest.mark.parametrize(
    ("lens", "text"),
    [
        (SpheroCylinder(-2.25, -1.5, 85.0), "-2.25 -1.50 x 085"),
        (SpheroCylinder(1.0), "+1.00 DS"),
        (SpheroCylinder(0.0), "plano"),
        (SpheroCylinder(0.0, -1.0, 5.0), "plano -1.00 x 005"),
        (SpheroCylinder(-0.001, 0.001, 5.0), "plano"),
        (SpheroCylinder(0.125, -0.375, 180.0), "+0.12 -0.37 x 180"),
        (SpheroCylinder(1.0, -1.0, 0.3), "+1.00 -1.00 x 180"),
        (SpheroCylinder(1.0, -1.0, 84.5), "+1.00 -1.00 x 085"),
    ],
)
def test_text_form(lens: SpheroCylinder, text: str) -> None:
    assert str(lens) == text


def test_crossed_cylinder_text() -> None:
    assert str(SpheroCylinder(1.0, 1.0, 90.0).crossed_cylinders()) == "+2.00 x 090 / +1.00 x 180"
    assert str(CrossedCylinders(-1.0, 180.0, 0.0)) == "-1.00 x 180 / plano x 090"


def test_written_eighths_are_understood_again() -> None:
    """0.12, 0.37, 0.62 and 0.87 are written for eighths and must come back as eighths."""
    powers = [eighths / 8.0 for eighths in range(-320, 321) if eighths]

    assert [from_written_power_d(float(written_power(power))) for power in powers] == powers


def test_only_written_eighths_are_changed() -> None:
    assert from_written_power_d(0.13) == 0.125
    assert from_written_power_d(1.1) == 1.1
    assert from_written_power_d(-1.493) == -1.493


def test_written_axis_has_three_digits() -> None:
    assert [written_axis(value) for value in (5, 90.4, 179.6, 0.2)] == ["005", "090", "180", "180"]


def test_no_cylinder_means_no_axis() -> None:
    assert SpheroCylinder(1.0, 0.0, 90.0) == SpheroCylinder(1.0)
    assert SpheroCylinder(1.0, -0.0, 90.0).axis_deg is None
    with pytest.raises(AxisError, match="has no axis"):
        SpheroCylinder(1.0, -0.5)


def test_negative_zero_is_never_shown() -> None:
    assert math.copysign(1.0, SpheroCylinder(-0.0).sphere_d) == 1.0


def test_matrix_of_the_wrong_shape_is_refused() -> None:
    with pytest.raises(ShapeError, match="shape"):
        PowerVector.from_matrix(np.eye(3))
    with pytest.raises(ShapeError, match="off its diagonal"):
        PowerVector.from_matrix([[1.0, 0.5], [0.0, 1.0]])
