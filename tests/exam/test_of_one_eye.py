"""A distance or a working-distance lens said of one eye holds for that eye, whenever it is in hand, and for no other."""

import pytest

from tests.exam.typing import Typist
from tests.some import some

READ = ("streak 90 plus two", "streak 180 plus two")
FROM_67_D, FROM_50_D, THROUGH_LENS_D = 2 - 100 / 67, 0.0, 2.0


def means_d(*lines: str) -> tuple[float | None, float | None]:
    """Mean sphere of the right and the left eye, dioptres; both are read as plus two all round where READ is typed."""
    typist = Typist()
    typist.type("i name the streak")
    for line in lines:
        typist.type(line)
    vectors = [typist.state.eyes[eye].solution.vector for eye in ("right", "left")]
    right, left = (None if each is None else each.m_d for each in vectors)
    return right, left


@pytest.mark.parametrize(
    "said",
    [
        "working distance 50 for the left eye",
        "working distance 50 left eye",
        "left eye was at 50",
    ],
)
def test_a_distance_of_the_eye_to_come_waits_for_it(said: str) -> None:
    right, left = means_d("right eye", "working distance 67", said, *READ, "left eye", *READ)
    assert (some(right), some(left)) == pytest.approx((FROM_67_D, FROM_50_D))


def test_each_eye_keeps_its_own_distance() -> None:
    once = ("left eye", *READ, "right eye", *READ)
    assert means_d("right eye at 67 left eye at 50", *once) == pytest.approx((FROM_67_D, FROM_50_D))
    again = (*once, "left eye", "streak 90 plus three", "streak 180 plus three")
    assert means_d("right eye at 67 left eye at 50", *again) == pytest.approx((FROM_67_D, FROM_50_D + 1))


def test_a_distance_put_right_for_one_eye_leaves_the_other_as_it_was() -> None:
    both = ("working distance 67", "right eye", *READ, "left eye", *READ, "left eye was at 50")
    right, left = means_d(*both, "right eye", "streak 90 plus three", "streak 180 plus three")
    assert (some(right), some(left)) == pytest.approx((FROM_67_D + 1, FROM_50_D))


def test_a_distance_said_of_no_eye_takes_the_place_of_its_own() -> None:
    right, left = means_d(
        "working distance 50 for the left eye", "left eye", "working distance 67", *READ, "right eye", *READ
    )
    assert (some(right), some(left)) == pytest.approx((FROM_67_D, FROM_67_D))


def test_the_distance_of_the_eye_in_hand_is_the_one_that_is_corrected() -> None:
    begun = ("working distance 50 for the left eye", "right eye", "working distance 40", "left eye", *READ)
    right, left = means_d(*begun, "correction working distance 67", "right eye", *READ)
    assert (some(right), some(left)) == pytest.approx((2 - 2.5, FROM_67_D))


@pytest.mark.parametrize(
    ("said", "right_d", "left_d"),
    [
        ("working lens in for the left eye", FROM_67_D, THROUGH_LENS_D),
        ("working lens in; take out the working lens for the left eye", THROUGH_LENS_D, FROM_67_D),
    ],
)
def test_a_working_lens_of_one_eye_is_in_before_that_eye_alone(
    said: str, right_d: float, left_d: float
) -> None:
    lines = said.split("; ")
    right, left = means_d("right eye", "working distance 67", *lines, *READ, "left eye", *READ)
    assert (some(right), some(left)) == pytest.approx((right_d, left_d))


def test_going_to_an_eye_with_its_own_distance_says_it() -> None:
    typist = Typist()
    for line in ("right eye", "working distance 67", "working distance 50 for the left eye"):
        typist.type(line)
    assert typist.type("left eye").reply == "left eye, working distance 50 cm"
    assert typist.type("right eye").reply == "right eye, working distance 67 cm"


def test_undone_the_other_distance_is_in_force_again() -> None:
    lines = ("working distance 67", "working distance 50 for the left eye", "undo", "left eye", *READ)
    assert some(means_d(*lines)[1]) == pytest.approx(FROM_67_D)


def test_a_lens_of_one_eye_put_right_changes_nothing_of_the_other() -> None:
    lines = ("right eye", "working distance 50", "working lens plus two in", *READ, "left eye")
    corrected = ("working lens plus two in for the left eye", *READ, "correction working lens out")
    assert means_d(*lines, *corrected) == pytest.approx((THROUGH_LENS_D, FROM_50_D))
