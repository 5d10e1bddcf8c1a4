"""The first mistake in the order of causes: what was seen comes before sums and words."""

from tests.practice.test_lesson import HEAD, RIGHT, mistake, taught
from voicelog.practice.judging import judge

SPHERE = {"truth": "-1.00"}  # at half a metre neutral at +1.00 in every meridian


def found(*lines: str, **changes: str) -> tuple[str, str, str]:
    """Code and words of the first mistake, and the motion of the look that is shown again."""
    one = taught((*HEAD, *lines), **changes)
    first = judge(one.exercise, one.state, one.looks_before).mistake
    assert first is not None
    return first.code, first.text, first.glimpse.reflex.motion if first.glimpse else ""


def test_neutral_logged_on_an_against_reflex_is_a_motion_misread() -> None:
    """The values of the other meridian: by the numbers alone the naming habit would explain them."""
    lines = (
        "vertical",
        "sphere +3.25",
        "vertical neutral",
        "horizontal",
        "sphere +1.50",
        "horizontal neutral",
    )
    code, text, motion = found(*lines)

    assert mistake(*HEAD, *lines) == ("other_habit", 5)
    assert (code, motion) == ("motion", "against")
    assert "through that lens the reflex moved against: 1.75 D more minus was needed" in text


def test_a_value_said_without_looking_through_it_is_a_slip_of_words() -> None:
    code, _, motion = found("streak 90", "sphere +1.50", "streak 90 neutral at -1.50", RIGHT[1])

    assert (code, motion) == ("sign", "")


def test_neutral_called_early_shows_its_look_again() -> None:
    code, text, motion = found(
        "streak 90",
        "sphere +0.50",
        "streak 90 neutral",
        "streak 180",
        "sphere +1",
        "streak 180 neutral",
        **SPHERE,
    )

    assert (code, motion) == ("stopped_early", "with")
    assert "too early" in text


def test_a_turned_band_that_was_not_followed_is_named_with_its_streak() -> None:
    """+1.00 -3.00 x 30 read along 90 and 180: each value is right there, and the band was turned all the time."""
    lines = (
        "streak 90",
        "sphere +1.25",
        "sphere +2.25",
        "streak 90 neutral",
        "streak 180",
        "sphere +0.75",
        "streak 180 neutral",
    )
    code, text, _ = found(*lines, truth="+1.00 -3.00 x 30")

    assert code == "axis"
    assert "degrees from the streak, and the streak was not laid along it" in text


def test_a_band_that_was_followed_in_the_end_is_no_mistake() -> None:
    lines = ("streak 80", "sphere +1.00", "streak 90", *RIGHT)
    one = taught((*HEAD, *lines))

    assert judge(one.exercise, one.state, one.looks_before).mistake is None
