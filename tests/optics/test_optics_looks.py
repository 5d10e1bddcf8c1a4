"""The one place where looks become a result: what stands, what belongs together, what cannot be true."""

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from tests.optics.optics_cases import lenses, quarter_steps, repeatable, thorough, whole_axes
from voicelog.optics import (
    PUBLISHED_NEUTRALITY_SD_D,
    USUAL_ERRORS,
    ErrorModel,
    Look,
    LooksSolution,
    Motion,
    MotionError,
    SpheroCylinder,
    axis_difference_deg,
    normalise_axis_deg,
    solve_looks,
)

MOTIONS: dict[str, Motion] = {"neutral": "neutral", "with": "with", "against": "against"}


def looks(text: str) -> list[Look]:
    """Looks written "90 neutral +3; 45 with +5"; "concave" behind it for that mirror."""
    found = []
    for part in text.split(";"):
        meridian, motion, power, *mirror = part.split()
        found.append(Look(float(meridian), float(power), MOTIONS[motion], mirror == ["concave"]))
    return found


def solved(text: str, **settings: object) -> LooksSolution:
    """The solution of looks written so, under the usual errors."""
    return solve_looks(looks(text), errors=USUAL_ERRORS, **settings)  # type: ignore[arg-type]


def codes(solution: LooksSolution) -> list[str]:
    """The codes of its problems."""
    return [problem.code for problem in solution.problems]


def test_no_look_is_empty_and_one_is_incomplete() -> None:
    assert solve_looks([]).status == "empty"
    assert codes(solve_looks([])) == ["no_readings"]
    assert solved("90 neutral +1").status == "incomplete"
    assert codes(solved("90 neutral +1")) == ["meridian_missing"]


def test_an_unknown_motion_is_refused() -> None:
    with pytest.raises(MotionError, match="'scissors'"):
        Look(90, 1.0, "scissors")  # type: ignore[arg-type]


def test_the_last_neutral_of_a_meridian_stands() -> None:
    solution = solved("90 neutral +2; 180 neutral +1; 90 neutral +3")

    assert solution.standing == (1, 2)
    assert solution.net == SpheroCylinder(3.0, -2.0, 90)
    assert solved("90 neutral +2; 180 neutral +1; 90 neutral +3", repeats="mean").net == SpheroCylinder(
        2.5, -1.5, 90
    )


@repeatable
@given(
    eye=lenses(largest_d=8.0),
    start=whole_axes,
    count=st.integers(2, 4),
    wrong=st.lists(st.tuples(st.integers(0, 3), quarter_steps, st.integers(-10, 10)), max_size=4),
)
def test_what_was_superseded_changes_nothing(
    eye: SpheroCylinder, start: float, count: int, wrong: list[tuple[int, float, int]]
) -> None:
    """Whatever was said of a meridian before, within 10 degrees of it, only the last neutral counts."""
    meridians = [normalise_axis_deg(start + 180.0 * k / count) for k in range(count)]
    right = [Look(angle, eye.power_along_d(angle), "neutral") for angle in meridians]
    before = [
        Look(normalise_axis_deg(meridians[place % count] + off), power, "neutral")
        for place, power, off in wrong
    ]
    assume(all(len({place}) == 1 for place, _, _ in wrong))
    again = solve_looks([*right, *before, *right], errors=USUAL_ERRORS)

    alone = solve_looks(right, errors=USUAL_ERRORS)

    assert again.net == alone.net
    assert again.status == alone.status
    assert [again.standing[k] - len(right) - len(before) for k in range(count)] == list(alone.standing)


@pytest.mark.parametrize(
    ("third", "net"),
    [
        ("2 neutral +1.5", "+3.00 -1.50 x 091"),
        ("5 neutral +1.75", "+3.00 -1.25 x 093"),
        ("90 neutral +3", "+3.00 -1.50 x 090"),
    ],
)
def test_a_third_reading_beside_a_pair_belongs_to_it(third: str, net: str) -> None:
    """Case 7 of use: +1.75 at 5 made +3.75 -3.00 x 059 of +3.00 -1.50 x 090."""
    solution = solved(f"90 neutral +3; 180 neutral +1.5; {third}")

    assert solution.status == "solved"
    assert str(solution.net) == net


@thorough
@given(
    first=whole_axes,
    powers=st.tuples(quarter_steps, quarter_steps, quarter_steps),
    beside=st.integers(-10, 10),
    across=st.booleans(),
    repeats=st.sampled_from(["last", "mean"]),
)
def test_no_reading_beside_a_pair_makes_a_cylinder_of_its_own(
    first: float, powers: tuple[float, float, float], beside: int, across: bool, repeats: str
) -> None:
    second = normalise_axis_deg(first + 90.0)
    third = normalise_axis_deg((second if across else first) + beside)
    seen = [
        Look(first, powers[0], "neutral"),
        Look(second, powers[1], "neutral"),
        Look(third, powers[2], "neutral"),
    ]

    solution = solve_looks(seen, errors=USUAL_ERRORS, repeats=repeats)  # type: ignore[arg-type]

    assert solution.exact is not None
    one, other = (each.neutral_d for each in solution.meridians)
    assert one is not None
    assert other is not None
    assert abs(solution.exact.cylinder_d) == pytest.approx(abs(one - other), abs=1e-9)
    if solution.exact.axis_deg is not None:
        off = abs(axis_difference_deg(solution.exact.axis_deg, first))
        assert min(off, 90.0 - off) <= 5.0 + 1e-9


def test_three_readings_too_near_to_each_other_leave_the_result_to_the_pair() -> None:
    """12 degrees beside: least squares would make +3.50 -2.50 x 063 of it."""
    solution = solved("90 neutral +3; 180 neutral +1.5; 12 neutral +2")

    assert solution.status == "solved"
    assert solution.net == SpheroCylinder(3.0, -1.5, 90)
    assert solution.problems[0].text == (
        "12 is too near to fix the axis better: the result is that of 90 and 180, which the rest only checks"
    )
    assert len(solution.residuals_d) == 3
    far = solved("90 neutral +3; 180 neutral +1.5; 12 neutral +3.5")
    assert far.status == "conflict"
    assert far.net == SpheroCylinder(3.0, -1.5, 90)


def test_meridians_are_the_same_modulo_180() -> None:
    solution = solved("175 neutral +1; 90 neutral +3; 3 neutral +1.5")

    assert solution.standing == (1, 2)
    assert [seen.looks for seen in solution.meridians] == [(0, 2), (1,)]
    assert solution.meridians[0].meridian_deg == 3.0


@pytest.mark.parametrize(
    ("second", "status"), [(160, "incomplete"), (169, "incomplete"), (170, "solved"), (10, "solved")]
)
def test_two_meridians_within_ten_degrees_of_a_right_angle_are_a_pair(second: int, status: str) -> None:
    solution = solved(f"90 neutral +3; {second} neutral +1")

    assert solution.status == status
    assert codes(solution) == (["snapped"] if status == "solved" else ["third_meridian_needed"])


def test_a_motion_in_another_meridian_is_held_against_the_fit() -> None:
    """Case 7 of use: nothing was said of it."""
    solution = solved("90 neutral +3; 180 neutral +1; 45 with +5")

    assert solution.status == "conflict"
    (found,) = solution.contradictions
    assert found.looks == (2,)
    assert found.problem in solution.problems
    assert found.problem.text == (
        "with motion at +5.00 along 45 asks for more plus; the neutral lenses give +2.00 ± 0.6 there"
    )


@pytest.mark.parametrize(
    ("motion", "contradicts"),
    [
        (
            "45 with +2.75",
            False,
        ),  # the fit's and the look's own errors reach 0.93 D, one-sided, once in a hundred
        ("45 with +3.00", True),
        ("45 against +5", False),
        ("45 against +1.25", False),
        ("45 against +1.00", True),
        ("45 with +5 concave", False),
        ("45 against +5 concave", True),
        ("45 with -1 concave", True),
        ("95 against +3", False),
        ("95 with +3.25", False),
        ("95 with +5", True),
    ],
)
def test_which_motions_contradict_the_fit(motion: str, contradicts: bool) -> None:
    solution = solved(f"90 neutral +3; 180 neutral +1; {motion}")

    assert [each.problem.code for each in solution.contradictions] == ["motion_against_fit"] * contradicts
    assert solution.status == ("conflict" if contradicts else "solved")


def test_within_its_own_meridian_a_motion_is_held_to_the_letter() -> None:
    solution = solved("90 with +3; 90 neutral +3; 180 neutral +1")

    assert solution.status == "conflict"
    assert [(each.problem.code, each.looks) for each in solution.contradictions] == [
        ("neutral_outside_bounds", (0, 1))
    ]
    assert solved("90 with +2.75; 90 neutral +3; 180 neutral +1").status == "solved"
    assert solved("90 neutral +2; 90 with +2.5; 90 neutral +3; 180 neutral +1").status == "solved"


def test_a_contradiction_counts_before_the_eye_is_solved() -> None:
    solution = solved("90 with +2; 90 against +1")

    assert solution.status == "conflict"
    assert codes(solution)[0] == "motions_contradict"
    assert solution.estimate is None


def test_brackets_give_a_value_and_its_error() -> None:
    """Case 11 of use: "no meridian has been measured" was all that was said."""
    solution = solved("90 with +2; 90 against +2.5; 180 with +1; 180 against +1.5")

    assert solution.status == "incomplete"
    assert solution.net is None
    assert [problem.text for problem in solution.problems] == [
        "the 90 meridian lies between +2.00 and +2.50, about +2.25 ± 0.6; say neutral at the lens you take",
        "the 180 meridian lies between +1.00 and +1.50, about +1.25 ± 0.6; say neutral at the lens you take",
    ]
    assert solution.estimate is not None
    assert solution.estimate.lens == SpheroCylinder(2.25, -1.0, 90)
    first, second = solution.meridians
    assert (first.neutral_d, first.lower_d, first.upper_d, first.midpoint_d) == (None, 2.0, 2.5, 2.25)
    assert first.midpoint_sd_d is not None
    sure = solution.estimate.uncertainty
    assert sure.cylinder_sd_d == pytest.approx(2.0 * math.sqrt(2.0) * first.midpoint_sd_d / 2.0)
    assert second.midpoint_sd_d == pytest.approx(first.midpoint_sd_d)


def test_a_bracket_beside_a_neutral_gives_an_estimate_and_never_a_result() -> None:
    solution = solved("90 neutral +2; 180 with +1; 180 against +1.5", allowance_d=1.5)

    assert (solution.status, solution.net) == ("incomplete", None)
    assert codes(solution) == ["not_neutral_yet"]
    assert solution.estimate is not None
    assert solution.estimate.lens == SpheroCylinder(0.5, -0.75, 90)


def test_what_cannot_be_true_stays_a_conflict_when_more_is_missing() -> None:
    """Meridians that fix nothing, and a motion that denies a neutral."""
    useless = "180 neutral +2; 158 neutral +1; 169 neutral +1.25"

    assert solved(useless).status == "incomplete"
    assert solved(f"{useless}; 180 with +3").status == "conflict"
    assert solved(useless).net is None


def test_angles_are_said_to_a_tenth_of_a_degree() -> None:
    solution = solved("90 neutral +3; 180 neutral +1; 1 neutral +1; 5 neutral +1", repeats="mean")

    assert solution.problems[0].text == "meridians 90 and 2 are 88 degrees apart; taken as 91 and 1"
    assert solved("90 neutral +3; 180 neutral +1; 1 neutral +1; 4 neutral +1", repeats="mean").problems[
        0
    ].text == ("meridians 90 and 1.7 are 88.3 degrees apart; taken as 90.8 and 0.8")


def test_a_bracket_does_not_change_a_result() -> None:
    plain = solved("90 neutral +2; 180 neutral +1")
    beside = solved("90 neutral +2; 180 neutral +1; 45 with +1; 45 against +2")

    assert beside.net == plain.net
    assert beside.vector == plain.vector
    assert beside.status == "solved"
    assert beside.estimate is None


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("90 with +2", "the 90 meridian is more plus than +2.00; not neutral yet"),
        ("90 against +2", "the 90 meridian is more minus than +2.00; not neutral yet"),
        ("90 against +2 concave", "the 90 meridian is more plus than +2.00; not neutral yet"),
    ],
)
def test_one_bound_is_said(text: str, said: str) -> None:
    solution = solved(text)

    assert [problem.text for problem in solution.problems] == [said]
    assert (solution.status, solution.estimate) == ("incomplete", None)


def test_a_spherical_eye_in_four_meridians_is_written_as_a_sphere() -> None:
    """Its readings differ by a lens step: least squares make +2.25 -0.25 x 022 of it."""
    solution = solved("45 neutral +2.25; 90 neutral +2; 135 neutral +2; 180 neutral +2.25")

    assert solution.net == SpheroCylinder(2.25)
    assert codes(solution) == ["cylinder_unsupported"]
    assert solution.exact is not None
    assert solution.exact.cylinder_d < -0.2
    assert solution.uncertainty is not None
    assert solution.uncertainty.text(solution.net) == "+2.25 ± 0.5, cylinder 0.00 ± 0.8"


def test_two_readings_are_written_as_measured() -> None:
    assert solved("90 neutral +1; 180 neutral +1.25").net == SpheroCylinder(1.25, -0.25, 180)


def test_a_cylinder_beyond_its_error_is_written() -> None:
    """Four readings of 0.27 D: J is known to 0.19 D, and a cylinder of 0.93 D comes to 5.99 in chi-square."""
    small = [
        Look(a, 2.0 + 0.45 * math.cos(math.radians(2 * a)), "neutral") for a in (45.0, 90.0, 135.0, 180.0)
    ]
    large = [
        Look(a, 2.0 + 0.5 * math.cos(math.radians(2 * a)), "neutral") for a in (45.0, 90.0, 135.0, 180.0)
    ]
    sure = ErrorModel(neutrality_sd_d=0.0)

    assert solve_looks(small, errors=USUAL_ERRORS).net == SpheroCylinder(2.0)
    assert solve_looks(large, errors=USUAL_ERRORS).net == SpheroCylinder(2.5, -1.0, 180)
    assert solve_looks(small, errors=sure).net == SpheroCylinder(2.5, -1.0, 180)
    assert solve_looks(small).net == SpheroCylinder(2.5, -1.0, 180)  # no error model, nothing withheld


def test_the_sphere_written_is_the_one_that_fits_best() -> None:
    """Unevenly spread meridians: the best sphere is the readings' mean, not the M of a cylinder not there."""
    solution = solved("30 neutral +2; 50 neutral +2.5; 70 neutral +2")

    assert codes(solution) == ["ill_conditioned", "cylinder_unsupported"]
    assert solution.net == SpheroCylinder(2.25)
    assert solution.vector is not None
    assert solution.vector.m_d < 1.0


def test_the_allowance_is_taken_off_the_result_and_not_off_what_is_said_of_looks() -> None:
    gross = solved("90 neutral +3; 180 neutral +1; 45 with +6", allowance_d=1.5)

    assert gross.net == SpheroCylinder(1.5, -2.0, 90)
    assert gross.meridians[0].neutral_d == 3.0
    assert "give +2.00 ± 0.6 there" in gross.problems[0].text


def test_the_worst_reading_is_named_by_its_look() -> None:
    eye = SpheroCylinder(-1.25, -2.0, 37.0)
    seen = [Look(10.0, -9.0, "neutral")]
    seen += [Look(a, eye.power_along_d(a), "neutral") for a in (10.0, 40.0, 70.0, 100.0, 130.0, 160.0)]
    seen[3] = Look(70.0, seen[3].power_d + 3.0, "neutral")

    solution = solve_looks(seen, errors=USUAL_ERRORS)

    assert solution.worst_reading == 3
    assert solution.standing == (1, 2, 3, 4, 5, 6)


def test_the_usual_errors_are_the_published_ones() -> None:
    assert USUAL_ERRORS.neutrality_sd_d == PUBLISHED_NEUTRALITY_SD_D
    assert solve_looks(looks("90 neutral +3; 180 neutral +1")).uncertainty is None
