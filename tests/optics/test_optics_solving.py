"""Solving: the readings that a refraction makes give it back, and what cannot be solved is said."""

import itertools
import math
from collections.abc import Callable

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.optics.optics_cases import (
    any_axes,
    apart_d,
    lenses,
    quarter_steps,
    repeatable,
    thorough,
    whole_axes,
)
from tests.some import some
from voicelog.optics import (
    Form,
    MeridianReading,
    ShapeError,
    Solution,
    SpheroCylinder,
    best_next_meridian_deg,
    combined_vector,
    meridian_to_streak_deg,
    normalise_axis_deg,
    solve_readings,
    streak_to_meridian_deg,
    written_power,
)
from voicelog.optics.fitting import fit_all_components

EXACT_D = 1e-9

distances_m = st.floats(0.05, 6.0)
refractions = lenses(largest_d=15.0)

# Meridians, each with the lenses in the frame when it was neutral; made of an eye, a first meridian, an allowance.
Frame = list[tuple[float, list[SpheroCylinder]]]
Technique = Callable[[SpheroCylinder, float, float], Frame]


def spheres(eye: SpheroCylinder, meridian_deg: float, allowance_d: float) -> Frame:
    """Two spheres: each meridian neutralised by a sphere alone."""
    return [
        (angle, [SpheroCylinder(eye.power_along_d(angle) + allowance_d)])
        for angle in (meridian_deg, normalise_axis_deg(meridian_deg + 90.0))
    ]


def sphere_and_cylinder(eye: SpheroCylinder, meridian_deg: float, allowance_d: float) -> Frame:
    """The first sphere stays; a cylinder with its axis along the streak then in use joins it."""
    across = normalise_axis_deg(meridian_deg + 90.0)
    sphere = SpheroCylinder(eye.power_along_d(meridian_deg) + allowance_d)
    step = eye.power_along_d(across) - eye.power_along_d(meridian_deg)
    cylinder = SpheroCylinder(0.0, step, meridian_to_streak_deg(across))
    return [(meridian_deg, [sphere]), (across, [sphere, cylinder])]


def cylinders(eye: SpheroCylinder, meridian_deg: float, allowance_d: float) -> Frame:
    """Two cylinders, each with its axis along the streak it neutralises."""
    across = normalise_axis_deg(meridian_deg + 90.0)
    first = SpheroCylinder(
        0.0, eye.power_along_d(meridian_deg) + allowance_d, meridian_to_streak_deg(meridian_deg)
    )
    second = SpheroCylinder(0.0, eye.power_along_d(across) + allowance_d, meridian_to_streak_deg(across))
    return [(meridian_deg, [first]), (across, [first, second])]


def over_spectacles(eye: SpheroCylinder, meridian_deg: float, allowance_d: float) -> Frame:
    """Any oblique lens worn, with a sphere on top that makes up the rest in each meridian."""
    worn = SpheroCylinder(-1.75, 2.25, 33.0)
    return [
        (angle, [worn, SpheroCylinder(eye.power_along_d(angle) + allowance_d - worn.power_along_d(angle))])
        for angle in (meridian_deg, normalise_axis_deg(meridian_deg + 90.0))
    ]


TECHNIQUES = [spheres, sphere_and_cylinder, cylinders, over_spectacles]


def as_named(angle_deg: float, naming: str) -> float:
    """What an examiner of that habit says for a power meridian, and what the program makes of it."""
    said = meridian_to_streak_deg(angle_deg) if naming == "streak" else angle_deg
    return streak_to_meridian_deg(said) if naming == "streak" else said


@thorough
@given(
    eye=refractions,
    technique=st.sampled_from(TECHNIQUES),
    naming=st.sampled_from(["streak", "meridian"]),
    distance_m=distances_m,
    lens_in=st.booleans(),
    start_across=st.booleans(),
    form=st.sampled_from(["minus", "plus"]),
)
def test_every_technique_gives_the_refraction_back(
    eye: SpheroCylinder,
    technique: Technique,
    naming: str,
    distance_m: float,
    lens_in: bool,
    start_across: bool,
    form: Form,
) -> None:
    allowance = 0.0 if lens_in else 1.0 / distance_m
    first = (eye.axis_deg or 180.0) + (90.0 if start_across else 0.0)
    frame = technique(eye, normalise_axis_deg(first), allowance)
    readings = [MeridianReading.from_lenses(as_named(angle, naming), lenses_in) for angle, lenses_in in frame]

    solution = solve_readings(readings, allowance, form=form)

    assert solution.status == "solved"
    assert solution.problems == ()
    assert apart_d(some(solution.exact), eye) < EXACT_D
    assert apart_d(some(solution.vector), eye) < EXACT_D
    assert some(solution.residual_d) < EXACT_D


@thorough
@given(
    eye=refractions,
    meridians=st.lists(whole_axes, min_size=3, max_size=9, unique=True),
    naming=st.sampled_from(["streak", "meridian"]),
    distance_m=distances_m,
    lens_in=st.booleans(),
    worn=lenses(largest_d=2.0),
)
def test_any_meridians_give_the_refraction_back(
    eye: SpheroCylinder,
    meridians: list[float],
    naming: str,
    distance_m: float,
    lens_in: bool,
    worn: SpheroCylinder,
) -> None:
    """However close together, unless they come down to one meridian, two, or a pair that others are too near to."""
    allowance = 0.0 if lens_in else 1.0 / distance_m
    readings = []
    for angle in meridians:
        top = SpheroCylinder(eye.power_along_d(angle) + allowance - worn.power_along_d(angle))
        readings.append(MeridianReading.from_lenses(as_named(angle, naming), [worn, top]))

    solution = solve_readings(readings, allowance)

    assume(solution.exact is not None and solution.pair_axis_deg is None)
    assert apart_d(some(solution.exact), eye) < EXACT_D
    assert some(solution.residual_d) < EXACT_D
    if solution.status == "incomplete":
        assert [problem.code for problem in solution.problems] == ["ill_conditioned"]
    else:
        assert solution.status == "solved"


@repeatable
@given(
    eye=lenses(largest_d=15.0),
    meridians=st.lists(
        st.sampled_from([12.0 * k for k in range(1, 16)]), min_size=3, max_size=6, unique=True
    ),
    data=st.data(),
)
def test_the_order_and_repeats_of_readings_do_not_matter(
    eye: SpheroCylinder, meridians: list[float], data: st.DataObject
) -> None:
    readings = [MeridianReading(angle, eye.power_along_d(angle)) for angle in meridians]
    solution = solve_readings(readings)
    assume(solution.status == "solved" and not solution.problems)
    shuffled = data.draw(st.permutations(readings + readings[:2]))

    again = solve_readings(shuffled)

    assert apart_d(some(again.exact), some(solution.exact)) < EXACT_D


@repeatable
@given(
    sphere=quarter_steps,
    cylinder=st.integers(-16, 16).filter(bool).map(lambda steps: steps / 4.0),
    axis=whole_axes,
    form=st.sampled_from(["minus", "plus"]),
)
def test_writable_refractions_come_out_exactly(
    sphere: float, cylinder: float, axis: float, form: Form
) -> None:
    """Quarter steps and whole degrees: not one digit of debris in exact or net."""
    eye = SpheroCylinder(sphere, cylinder, axis)
    readings = [MeridianReading(meridian, power + 1.5) for meridian, power in eye.power_cross()]

    solution = solve_readings(readings, 1.5, form=form)

    assert solution.exact == eye.in_form(form)
    assert solution.net == eye.in_form(form)


@repeatable
@given(
    powers=st.lists(quarter_steps, min_size=2, max_size=4),
    across=st.lists(quarter_steps, min_size=1, max_size=3),
    axis=whole_axes,
)
def test_repeats_of_a_meridian_are_averaged(powers: list[float], across: list[float], axis: float) -> None:
    readings = [MeridianReading(axis, power) for power in powers]
    readings += [MeridianReading(normalise_axis_deg(axis + 90.0), power) for power in across]

    solution = solve_readings(readings)

    mean, mean_across = sum(powers) / len(powers), sum(across) / len(across)
    vector = some(solution.vector)
    assert vector.power_along_d(axis) == pytest.approx(mean, abs=EXACT_D)
    assert 2 * vector.m_d - mean == pytest.approx(mean_across, abs=EXACT_D)
    squares = [(power - mean) ** 2 for power in powers] + [(power - mean_across) ** 2 for power in across]
    assert solution.residual_d == pytest.approx(math.sqrt(sum(squares) / len(squares)), abs=EXACT_D)


def test_equal_powers_are_a_sphere_without_axis() -> None:
    solution = solve_readings([MeridianReading(35, 2.0), MeridianReading(125, 2.0)], 2.0)

    assert solution.exact == SpheroCylinder(0.0)
    assert some(solution.net).axis_deg is None


def test_no_reading_is_empty() -> None:
    solution = solve_readings([])

    assert solution.status == "empty"
    assert solution.exact is None


@pytest.mark.parametrize(("measured", "missing"), [(180, "90"), (90, "180"), (30, "120"), (135, "45")])
def test_one_meridian_says_which_is_missing(measured: float, missing: str) -> None:
    readings = [MeridianReading(measured, 1.0), MeridianReading(measured, 1.25)]

    solution = solve_readings(readings)

    assert solution.status == "incomplete"
    (problem,) = solution.problems
    assert problem.code == "meridian_missing"
    assert f"the {missing} meridian is missing" in problem.text


@repeatable
@given(first=whole_axes, turn=st.integers(1, 179))
def test_two_meridians_are_solved_only_near_a_right_angle(first: float, turn: int) -> None:
    second = normalise_axis_deg(first + turn)
    solution = solve_readings([MeridianReading(first, 1.0), MeridianReading(second, 2.0)])

    off = abs(min(turn, 180 - turn) - 90)
    codes = [problem.code for problem in solution.problems]
    if min(turn, 180 - turn) <= 10:
        assert (solution.status, codes) == ("incomplete", ["meridian_missing"])
    elif off > 10:
        assert (solution.status, codes) == ("incomplete", ["third_meridian_needed"])
        assert solution.exact is None
    elif off:
        assert (solution.status, codes) == ("solved", ["snapped"])
    else:
        assert (solution.status, codes) == ("solved", [])


def test_snapping_turns_both_meridians_alike_and_says_so() -> None:
    solution = solve_readings([MeridianReading(180, 2.0), MeridianReading(92, 1.0)])

    assert solution.exact == SpheroCylinder(2.0, -1.0, 1.0)
    assert solution.problems[0].text == "meridians 180 and 92 are 88 degrees apart; taken as 1 and 91"


@repeatable
@given(first=whole_axes, off=st.integers(-10, 10).filter(bool), low=quarter_steps, high=quarter_steps)
def test_snapping_does_not_depend_on_the_order(first: float, off: int, low: float, high: float) -> None:
    one = MeridianReading(first, low)
    other = MeridianReading(normalise_axis_deg(first + 90 + off), high)

    forth, back = (some(solve_readings(pair).vector) for pair in ([one, other], [other, one]))

    assert apart_d(forth, back) < EXACT_D
    assert forth.astigmatism_d == pytest.approx(abs(low - high) / 2.0, abs=EXACT_D)


def test_advice_needs_a_meridian_to_start_from() -> None:
    with pytest.raises(ShapeError, match="at least one"):
        best_next_meridian_deg([])


def test_the_third_meridian_asked_for_is_the_best() -> None:
    """Compared with every whole degree by the condition of the fit that it would give."""
    pair = [180.0, 150.0]
    wanted = best_next_meridian_deg(pair)

    def amplification(third: float) -> float:
        return fit_all_components([*pair, third], [1.0, 1.0, 1.0]).condition

    others = [amplification(third) for third in range(1, 180) if third not in (150, 180)]
    assert amplification(wanted) <= min(others) * 1.001
    assert f"best near {wanted:g}" in solve_readings([MeridianReading(a, 1.0) for a in pair]).problems[0].text


@pytest.mark.parametrize("wrong", range(6))
@pytest.mark.parametrize("slip_d", [1.5, -2.0])
def test_a_wrong_reading_among_six_is_found(wrong: int, slip_d: float) -> None:
    eye = SpheroCylinder(-1.25, -2.0, 37.0)
    readings = [MeridianReading(angle, eye.power_along_d(angle)) for angle in (30, 60, 90, 120, 150, 180)]
    readings[wrong] = MeridianReading(readings[wrong].meridian_deg, readings[wrong].power_d + slip_d)

    solution = solve_readings(readings)

    assert solution.status == "conflict"
    assert solution.worst_reading == wrong
    assert "fits worst" in solution.problems[0].text
    expected = readings[wrong].power_d - slip_d
    assert f"the others give {expected:+.2f}" in solution.problems[0].text


def test_with_one_reading_to_spare_nobody_can_tell_which_is_wrong() -> None:
    """Four meridians, three unknowns: the leftover has one direction, so every reading is as suspect."""
    readings = [MeridianReading(a, p) for a, p in ((45, 1.0), (90, 1.0), (135, 3.0), (180, 1.0))]

    solution = solve_readings(readings)

    assert solution.status == "conflict"
    assert solution.worst_reading is None
    assert all(f"meridian {angle}" in solution.problems[0].text for angle in (45, 90, 135, 180))


@repeatable
@given(
    eye=lenses(largest_d=12.0),
    meridians=st.lists(st.integers(1, 18).map(lambda k: 10.0 * k), min_size=4, max_size=6, unique=True),
    wrong=st.integers(0, 5),
)
def test_a_lost_sign_is_pointed_at_and_never_corrected(
    eye: SpheroCylinder, meridians: list[float], wrong: int
) -> None:
    """The lens that made the hint must be one whose other sign settles it; the readings stay as they are."""
    readings = [MeridianReading(angle, eye.power_along_d(angle) + 1.5) for angle in meridians]
    lost = readings[wrong % len(readings)]
    assume(abs(lost.power_d) > 0.5)
    readings[wrong % len(readings)] = MeridianReading(lost.meridian_deg, -lost.power_d)

    solution = solve_readings(readings, 1.5)

    said = [problem.text for problem in solution.problems if problem.code == "disagreement"]
    assume(said)
    text = said[0]
    right = f"with {written_power(lost.power_d)} at meridian {lost.meridian_deg:g} all would agree"
    assert text.endswith(("; measure again", right))
    assert apart_d(some(solution.vector), eye) > 0.01


def test_the_words_of_a_lost_sign() -> None:
    """-1.00 -2.00 x 45 at 45, 90, 135, 180: -1.00, -2.00, -3.00, -2.00; the last one logged without its minus."""
    readings = [MeridianReading(a, p) for a, p in ((45, -1.0), (90, -2.0), (135, -3.0), (180, 2.0))]

    solution = solve_readings(readings)

    assert solution.problems[0].text.endswith("does not fit; with -2.00 at meridian 180 all would agree")


def test_rounding_to_quarter_steps_is_never_a_disagreement() -> None:
    """The largest rounding of four equally spaced readings, all an eighth off in the worst pattern."""
    readings = [MeridianReading(a, p) for a, p in ((45, 1.125), (90, 0.875), (135, 1.125), (180, 0.875))]

    solution = solve_readings(readings)

    assert solution.status == "solved"
    assert solution.residual_d == pytest.approx(0.125)


def test_repeats_conflict_from_the_difference_that_true_ones_reach_once_in_a_hundred() -> None:
    """Two readings with 0.27 D each differ by 2.576 sqrt(2) 0.27 = 0.98 D once in a hundred exams."""

    def repeated(gap_d: float) -> Solution:
        powers = ((180, 1.0), (180, 1.0 + gap_d), (90, 1.0))
        return solve_readings([MeridianReading(angle, power) for angle, power in powers])

    assert repeated(0.97).status == "solved"
    assert repeated(0.99).status == "conflict"
    assert "+1.00 at meridian 180 or +2.25 at meridian 180" in repeated(1.25).problems[0].text


def test_condition_of_evenly_spread_meridians() -> None:
    """Columns 1, cos 2t, sin 2t are orthogonal with squared lengths n, n/2, n/2: the ratio is sqrt 2."""
    for count in (3, 4, 5, 9):
        readings = [MeridianReading(180.0 * (k + 1) / count, 1.0) for k in range(count)]
        assert solve_readings(readings).condition == pytest.approx(math.sqrt(2.0), abs=1e-7)


def test_condition_agrees_with_a_library() -> None:
    """Against numpy's singular values, for spreads from good to bad."""
    import numpy as np

    for meridians in ((10, 20, 35), (88, 90, 180), (1, 2, 3), (5, 70, 100, 150), (12, 12, 80, 140)):
        design = [(1, math.cos(math.radians(2 * a)), math.sin(math.radians(2 * a))) for a in meridians]
        solution = fit_all_components(meridians, [1.0] * len(meridians))
        assert solution.condition == pytest.approx(np.linalg.cond(design), rel=1e-6)


def test_meridians_too_close_together_are_not_shown_as_a_result() -> None:
    readings = [MeridianReading(180, 2.0), MeridianReading(158, 1.0), MeridianReading(169, 1.25)]

    solution = solve_readings(readings)

    assert solution.status == "incomplete"
    assert solution.net is None
    assert solution.exact is not None
    assert solution.problems[0].code == "ill_conditioned"
    assert "measure near" in solution.problems[0].text


def test_meridians_rather_close_together_are_solved_with_a_warning() -> None:
    eye = SpheroCylinder(1.0, -2.0, 20.0)
    solution = solve_readings([MeridianReading(a, eye.power_along_d(a)) for a in (10, 30, 55)])

    assert solution.status == "solved"
    assert [problem.code for problem in solution.problems] == ["ill_conditioned"]


def test_readings_that_give_no_possible_lens_are_a_conflict() -> None:
    readings = [MeridianReading(180, 39.0), MeridianReading(60, -39.0), MeridianReading(120, 39.0)]

    solution = solve_readings(readings)

    assert solution.status == "conflict"
    assert solution.exact is None
    assert solution.net is None
    assert solution.problems[-1].code == "out_of_range"


def test_off_axis_readings_at_right_angles_lose_the_oblique_part() -> None:
    """Two readings assume the principal meridians. Worked: +3.00 -4.00 x 30 read at 90 and 180."""
    eye = SpheroCylinder(3.0, -4.0, 30.0)
    solution = solve_readings([MeridianReading(a, eye.power_along_d(a)) for a in (90, 180)])

    assert solution.net == SpheroCylinder(2.0, -2.0, 180.0)


@repeatable
@given(angle=any_axes, stack=st.lists(lenses(largest_d=8.0), max_size=4))
def test_a_reading_from_lenses_is_their_sum_along_the_meridian(
    angle: float, stack: list[SpheroCylinder]
) -> None:
    reading = MeridianReading.from_lenses(angle, stack)

    expected = math.fsum(lens.power_along_d(angle) for lens in stack)
    assert reading.power_d == pytest.approx(expected, abs=EXACT_D)
    assert combined_vector(stack).power_along_d(angle) == pytest.approx(expected, abs=EXACT_D)


@pytest.mark.parametrize("allowance", [1.5, 2.0])
def test_the_allowance_changes_the_sphere_only_and_once(allowance: float) -> None:
    pair = [MeridianReading(180, 2.25), MeridianReading(90, 1.0)]

    with_it = some(solve_readings(pair, allowance).exact)
    without = some(solve_readings(pair).exact)

    assert with_it.sphere_d == without.sphere_d - allowance
    assert with_it.cylinder_d == without.cylinder_d
    assert with_it.axis_deg == without.axis_deg


def test_all_pairs_of_techniques_agree_on_one_eye() -> None:
    """Mixing them in one exam does no harm: any two readings from any two techniques give the eye."""
    eye = SpheroCylinder(1.25, -1.75, 120.0)
    frames = [technique(eye, 120.0, 1.5) for technique in TECHNIQUES]
    for one, other in itertools.product(frames, frames):
        readings = [MeridianReading.from_lenses(*one[0]), MeridianReading.from_lenses(*other[1])]
        assert solve_readings(readings, 1.5).net == eye
