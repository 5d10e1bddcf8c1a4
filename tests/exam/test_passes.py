"""Retinoscopy repeated: each pass by itself, the mean as power vectors, the spread shown."""

from math import sqrt
from statistics import mean, stdev

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.exam.typing import exam, typed
from voicelog.exam.passes import mean_of_passes
from voicelog.exam.summary import summary
from voicelog.optics import SpheroCylinder

FIRST = """right eye
working distance fifty
streak 90 neutral at plus one
streak 180 neutral at plus half"""
SECOND = "\nnext pass\nstreak 90 neutral at plus one fifty\nstreak 180 neutral at plus half"

lenses = st.builds(
    SpheroCylinder,
    st.integers(-40, 40).map(lambda quarters: quarters / 4),
    st.integers(-16, 16).map(lambda quarters: quarters / 4),
    st.integers(1, 180),
)


def test_every_pass_is_solved_by_itself_and_the_mean_with_its_spread_is_shown() -> None:
    """Meridians by hand: pass 1 has -1.00 along 180 and -1.50 along 90, pass 2 -0.50 and -1.50; mean -0.75 and -1.50.

    The passes differ by 0.50 in one meridian: by (0.25, 0.25, 0) as a vector, length 0.354.
    """
    eye = summary(exam(FIRST + SECOND))["eyes"]["right"]

    assert [(each["pass"], each["net"]["sphere"], each["net"]["cylinder"]) for each in eye["passes"]] == [
        (1, -1.0, -0.5),
        (2, -0.5, -1.0),
    ]
    assert (eye["net"]["sphere"], eye["net"]["cylinder"], eye["net"]["axis"]) == (-0.5, -1.0, 180)
    assert (eye["mean"]["net"]["sphere"], eye["mean"]["net"]["cylinder"]) == (-0.75, -0.75)
    assert eye["mean"]["furthest_d"] == pytest.approx(0.354, abs=0.0005)
    assert eye["mean"]["spread_d"] == pytest.approx(0.354 / 2, abs=0.0005)
    assert eye["mean"]["spread"]["m"] == pytest.approx(0.25 / 2**0.5)
    assert eye["result"] == eye["mean"]["net"]


def test_one_pass_has_no_mean() -> None:
    eye = summary(exam(FIRST))["eyes"]["right"]

    assert (eye["pass"], eye["passes"], eye["mean"]) == (1, [], None)
    assert eye["result"] == eye["net"]


def test_until_its_first_reading_a_new_pass_hides_nothing() -> None:
    state = exam(f"{FIRST}\nsecond pass")

    assert state.eyes["right"].status == "solved"
    assert (state.eyes["right"].pass_number, state.eyes["right"].pass_opened) == (1, True)
    assert "pass 2 has no reading yet" in typed(f"{FIRST}\nsecond pass\nwhat is missing")[0][-1].reply


def test_a_pass_that_is_not_complete_is_left_out_of_the_mean() -> None:
    state = exam(f"{FIRST}{SECOND}\nthird pass\nstreak 90 neutral at plus two")
    eye = state.eyes["right"]

    assert eye.status == "incomplete"
    assert [each.status for each in eye.passes] == ["solved", "solved", "incomplete"]
    assert eye.mean is not None
    assert eye.mean.count == 2
    assert str(eye.result) == "-0.75 -0.75 x 180"


def test_within_one_pass_the_last_neutral_stands_and_in_the_next_both_count() -> None:
    """+3.00 in place of +1.00 along 180 gives +1.00 there; as a second pass it gives the mean of -1.00 and +1.00."""
    further = "streak 90 neutral at plus three\nstreak 180 neutral at plus half"
    once, twice = (
        exam(f"{FIRST}\n{further}").eyes["right"],
        exam(f"{FIRST}\nnext pass\n{further}").eyes["right"],
    )

    assert (str(once.result), once.mean) == ("+1.00 -2.50 x 180", None)
    assert [each.gross_d for each in once.in_hand.superseded] == [1.0, 0.5]
    assert str(twice.result) == "plano -1.50 x 180"
    assert twice.mean is not None


def test_the_meridian_in_hand_is_of_the_pass_before() -> None:
    answers, _ = typed(f"{FIRST}\nnext pass\nneutral at plus one")

    assert answers[-1].outcome == "asked"
    assert "which meridian?" in answers[-1].reply


def test_the_lenses_stay_before_the_eye() -> None:
    state = exam(f"{FIRST}\nnext pass\nstreak 180 neutral")

    assert [each.gross_d for each in state.eyes["right"].neutral] == [0.5]


def test_each_eye_has_its_own_passes() -> None:
    left = "left eye\nstreak 90 neutral at plus two\nstreak 180 neutral at plus two"
    state = exam(f"{FIRST}{SECOND}\n{left}")

    assert [state.eyes[name].pass_number for name in ("right", "left")] == [2, 1]
    assert len(exam(f"{FIRST}{SECOND}\n{left}\nsecond pass\nstreak 90 with").eyes["left"].passes) == 2


@pytest.mark.parametrize(
    ("lines", "reply"),
    [
        ("right eye\nnext pass", "pass 1 of the right eye has no reading yet"),
        (f"{FIRST}\nnext pass\nnext pass", "pass 2 of the right eye has no reading yet"),
        (f"{FIRST}\nthird pass", "the next pass of the right eye is pass 2"),
        (f"{FIRST}{SECOND}\nsecond pass", "the next pass of the right eye is pass 3"),
    ],
)
def test_a_pass_that_cannot_begin_is_asked_about(lines: str, reply: str) -> None:
    answers, _ = typed(lines)

    assert answers[-1].outcome == "asked"
    assert reply in answers[-1].reply


def test_change_reaches_only_the_pass_in_hand() -> None:
    state = exam(f"{FIRST}{SECOND}\nchange streak 90 to plus two")
    gross = [[each.gross_d for each in each_pass.neutral] for each_pass in state.eyes["right"].passes]
    assert gross == [[1.0, 0.5], [2.0, 0.5]]

    answers, state = typed(f"{FIRST}\nnext pass\nchange streak 90 to plus two")
    assert answers[-1].outcome == "asked"
    assert "change right eye: streak vertical (power along 180) neutral, sphere +1.00?" in answers[-1].reply
    assert [each.gross_d for each in state.eyes["right"].neutral] == [1.0, 0.5]


def test_scratching_the_pass_joins_the_readings_again() -> None:
    state = exam(f"{FIRST}\nnext pass\nscratch that\nstreak 45 with")

    assert state.eyes["right"].pass_number == 1
    assert len(state.eyes["right"].readings) == 3


def test_wrong_eye_moves_the_pass_with_its_readings() -> None:
    seen = "streak 90 with at plus one\n"
    lines = f"left eye\nworking distance 50\n{seen}right eye\n{seen}next pass\nstreak 90 against at plus two"
    _, state = typed(f"{lines}\nwrong eye\nyes")

    assert [len(state.eyes[name].readings) for name in ("right", "left")] == [0, 3]


def test_a_mirror_said_later_leaves_what_was_read_before() -> None:
    """Each reading keeps the mirror that it was taken with."""
    state = exam(
        f"{FIRST}\nstreak 90 against at plus three{SECOND}\nmirror concave\nstreak 90 with at plus three"
    )
    eye = state.eyes["right"]

    assert [[each.entry.mirror for each in one.readings] for one in eye.passes] == [
        ["plane", "plane", "plane"],
        ["plane", "plane", "concave"],
    ]
    assert [each.status for each in eye.passes] == ["solved", "solved"]
    assert state.mirror == "concave"


WET = (
    "\ndrops cyclopentolate one percent both eyes"
    "\nstreak 90 neutral at plus four\nstreak 180 neutral at plus three fifty"
)


def test_dry_and_wet_are_never_averaged() -> None:
    """The same eye 3.00 D more plus when accommodation is at rest: a mean would be right for neither."""
    eye = exam(f"{FIRST}{WET}").eyes["right"]

    assert (str(eye.result_of("dry")), str(eye.result_of("wet"))) == (
        "-1.00 -0.50 x 180",
        "+2.00 -0.50 x 180",
    )
    assert eye.mean is None
    assert eye.result == eye.result_of("wet")
    assert eye.conditions == ("dry", "wet")


def test_passes_of_one_condition_have_their_mean_beside_the_other() -> None:
    state = exam(f"{FIRST}{SECOND}{WET}")
    eye = state.eyes["right"]

    assert [each.condition for each in eye.passes] == ["dry", "dry", "wet"]
    assert (str(eye.result_of("dry")), str(eye.result_of("wet"))) == (
        "-0.75 -0.75 x 180",
        "+2.00 -0.50 x 180",
    )
    results = summary(state)["eyes"]["right"]["results"]
    assert {name: lens["sphere"] for name, lens in results.items()} == {"dry": -0.75, "wet": 2.0}


def test_drops_that_do_not_rest_accommodation_begin_no_pass() -> None:
    state = exam(f"{FIRST}\ndrops tetracaine one percent both eyes\nstreak 45 with at plus half")

    assert [each.condition for each in state.eyes["right"].passes] == ["dry"]


@given(st.lists(lenses, min_size=2, max_size=5))
def test_the_mean_against_power_matrices(passes: list[SpheroCylinder]) -> None:
    """Averaged as dioptric power matrices instead (Long 1976: f11, f12, f22 from S, C and A), by numpy."""
    found = mean_of_passes([each.vector for each in passes])
    assert found is not None

    angles = np.radians([each.axis_deg or 180 for each in passes])
    sphere = np.array([each.sphere_d for each in passes])
    cylinder = np.array([each.cylinder_d for each in passes])
    f11 = np.mean(sphere + cylinder * np.sin(angles) ** 2)
    f12 = np.mean(-cylinder * np.sin(angles) * np.cos(angles))
    f22 = np.mean(sphere + cylinder * np.cos(angles) ** 2)
    assert found.vector.matrix == pytest.approx(np.array([[f11, f12], [f12, f22]]), abs=1e-9)


@given(st.lists(lenses, min_size=2, max_size=5))
def test_the_spread_against_the_standard_library(passes: list[SpheroCylinder]) -> None:
    vectors = [each.vector for each in passes]
    found = mean_of_passes(vectors)
    assert found is not None

    assert found.spread.m_d == pytest.approx(stdev(each.m_d for each in vectors), abs=1e-9)
    assert found.spread.j0_d == pytest.approx(stdev(each.j0_d for each in vectors), abs=1e-9)
    assert found.spread.j45_d == pytest.approx(stdev(each.j45_d for each in vectors), abs=1e-9)
    assert found.vector.m_d == pytest.approx(mean(each.m_d for each in vectors), abs=1e-9)
    # |a - b|^2 <= 2 |a|^2 + 2 |b|^2, and the squares of all distances from the mean add up to n spread^2.
    assert found.furthest_d <= sqrt(2 * len(vectors)) * found.spread_d + 1e-9
    assert found.spread_d <= found.furthest_d + 1e-9


def test_crossed_axes_do_not_average_to_the_axis_between() -> None:
    """-1.00 x 10 and -1.00 x 170 lie 20 degrees apart across 180: their mean is at 180, never at 90."""
    found = mean_of_passes([SpheroCylinder(0, -1, 10).vector, SpheroCylinder(0, -1, 170).vector])

    assert found is not None
    assert str(found.net) == "plano -1.00 x 180"


def test_the_mean_is_written_in_the_form_and_steps_of_the_exam() -> None:
    vectors = [SpheroCylinder(1, -1, 93).vector, SpheroCylinder(1.25, -1, 93).vector]

    assert str(mean_of_passes(vectors, "plus", 0.125, 5).net) == "+0.12 +1.00 x 005"  # type: ignore[union-attr]
