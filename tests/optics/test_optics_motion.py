"""Bounds from with, against and neutral, and their contradictions in words."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.optics.optics_cases import quarter_steps, repeatable
from voicelog.optics import MeridianBounds, Motion, MotionError, MotionReading, bounds_by_meridian


def only(readings: list[MotionReading], **settings: bool) -> MeridianBounds:
    (bounds,) = bounds_by_meridian(readings, **settings)
    return bounds


def seen(neutral_d: float, lens_d: float, concave: bool = False) -> Motion:
    """What an eye that is neutral at `neutral_d` shows through a lens: the physics, told independently."""
    if lens_d == neutral_d:
        return "neutral"
    too_weak = lens_d < neutral_d
    return "with" if too_weak != concave else "against"


@repeatable
@given(
    neutral=quarter_steps,
    tried=st.lists(quarter_steps, min_size=1, max_size=8),
    concave=st.booleans(),
)
def test_a_consistent_eye_never_contradicts_itself(neutral: float, tried: list[float], concave: bool) -> None:
    readings = [MotionReading(90, lens, seen(neutral, lens, concave)) for lens in tried]

    bounds = only(readings, concave_mirror=concave)

    assert bounds.problems == ()
    assert bounds.conflicting == ()
    assert bounds.lower_d is None or bounds.lower_d < neutral
    assert bounds.upper_d is None or bounds.upper_d > neutral
    assert bounds.neutral_d in (None, neutral)
    assert bounds.lower_d == max((lens for lens in tried if lens < neutral), default=None)
    assert bounds.upper_d == min((lens for lens in tried if lens > neutral), default=None)


@repeatable
@given(
    neutral=quarter_steps,
    tried=st.lists(quarter_steps, min_size=2, max_size=8, unique=True),
    wrong=st.integers(0, 7),
)
def test_a_motion_misheard_is_caught_or_could_be_true(neutral: float, tried: list[float], wrong: int) -> None:
    """Swap with and against in one reading: a problem is raised unless some other eye shows just that."""
    swap: dict[Motion, Motion] = {"with": "against", "against": "with", "neutral": "neutral"}
    readings = [MotionReading(90, lens, seen(neutral, lens)) for lens in tried]
    victim = readings[wrong % len(readings)]
    readings[wrong % len(readings)] = MotionReading(90, victim.lens_power_d, swap[victim.motion])
    candidates = [step / 8.0 for step in range(-8 * 20, 8 * 20 + 1)]
    possible = any(
        all(seen(eye, reading.lens_power_d) == reading.motion for reading in readings) for eye in candidates
    )

    assert (only(readings).problems == ()) == possible


def test_the_words_of_the_worked_contradiction() -> None:
    bounds = only([MotionReading(90, 3.0, "neutral"), MotionReading(90, 3.5, "with")])

    (problem,) = bounds.problems
    assert problem.code == "neutral_outside_bounds"
    assert problem.text == "with motion at +3.50 along 90 asks for more plus; neutral there was +3.00"
    assert bounds.conflicting == (0, 1)


def test_against_below_neutral_is_a_contradiction() -> None:
    bounds = only([MotionReading(45, -1.0, "against"), MotionReading(45, 0.0, "neutral")])

    assert (
        bounds.problems[0].text
        == "against motion at -1.00 along 45 asks for more minus; neutral there was 0.00"
    )


def test_crossed_motions_are_a_contradiction() -> None:
    bounds = only([MotionReading(90, 2.0, "with"), MotionReading(90, 1.0, "against")])

    assert [problem.code for problem in bounds.problems] == ["motions_contradict"]
    assert "with motion at +2.00" in bounds.problems[0].text
    assert "against motion at +1.00" in bounds.problems[0].text


def test_both_motions_at_one_lens_contradict() -> None:
    bounds = only([MotionReading(90, 2.0, "with"), MotionReading(90, 2.0, "against")])

    assert [problem.code for problem in bounds.problems] == ["motions_contradict"]


@pytest.mark.parametrize("motion", ["with", "against"])
def test_motion_and_neutral_at_one_lens_contradict(motion: Motion) -> None:
    assert only([MotionReading(90, 2.0, motion), MotionReading(90, 2.0, "neutral")]).problems


def test_concave_mirror_reverses_and_is_said() -> None:
    readings = [MotionReading(90, 3.0, "neutral"), MotionReading(90, 3.5, "with")]

    assert only(readings, concave_mirror=True).problems == ()
    turned = only([MotionReading(90, 3.0, "neutral"), MotionReading(90, 3.5, "against")], concave_mirror=True)
    assert "against motion at +3.50 along 90 (concave mirror)" in turned.problems[0].text


def test_the_last_neutral_of_a_meridian_stands_and_is_held_against_the_motions() -> None:
    seen = [
        MotionReading(90, 3.5, "neutral"),
        MotionReading(90, 2.25, "with"),
        MotionReading(90, 2.0, "neutral"),
    ]

    corrected = only([*seen, MotionReading(90, 2.5, "neutral")])

    assert (corrected.neutral_d, corrected.problems) == (2.5, ())
    assert only(seen).conflicting == (1, 2)


def test_meridians_are_kept_apart_in_order_of_appearance() -> None:
    readings = [
        MotionReading(180, 1.0, "with"),
        MotionReading(90, 3.0, "against"),
        MotionReading(180, 2.0, "against"),
    ]

    horizontal, vertical = bounds_by_meridian(readings)

    assert (horizontal.meridian_deg, horizontal.lower_d, horizontal.upper_d) == (180.0, 1.0, 2.0)
    assert (vertical.meridian_deg, vertical.lower_d, vertical.upper_d) == (90.0, None, 3.0)
    assert horizontal.problems == vertical.problems == ()


def test_no_readings_no_bounds() -> None:
    assert bounds_by_meridian([]) == ()


def test_an_unknown_motion_is_refused() -> None:
    with pytest.raises(MotionError, match="'scissors'"):
        MotionReading(90, 1.0, "scissors")  # type: ignore[arg-type]
