"""What named a lens and was not understood: what comes next is not put to the lenses that were in place before."""

import pytest

from tests.exam.typing import Typist

BEGUN = ("right eye", "streak horizontal, sphere minus one, cylinder plus a half axis one eighty")
ASKS = "what named a lens before was not understood: is it sphere -1.00, cylinder +0.50 axis 180?"


def said(*lines: str) -> tuple[list[str], Typist]:
    """The last reply to each line, and the exam that the lines made."""
    typist = Typist()
    return [typist.type(line).replies[-1] for line in lines], typist


@pytest.mark.parametrize(
    "half_said", ["swapped the cylinder for wobbly three quarters", "make that plus one and bananas"]
)
@pytest.mark.parametrize("look", ["neutral", "with", "another quarter"])
def test_a_look_through_the_lenses_in_place_is_asked_about(half_said: str, look: str) -> None:
    replies, typist = said(*BEGUN, half_said, look)

    assert replies[-1] == ASKS
    assert typist.state.dialogue.lens_unclear


def test_yes_takes_them_and_no_doubt_is_left() -> None:
    replies, typist = said(*BEGUN, "swapped the cylinder for wobbly three quarters", "neutral", "yes")

    assert replies[-1].startswith("right eye: streak horizontal (power along 090) neutral, sphere -1.00, cyl")
    assert not typist.state.dialogue.lens_unclear


def test_lenses_that_are_named_settle_it() -> None:
    replies, _ = said(
        *BEGUN,
        "swapped the cylinder for wobbly three quarters",
        "sphere minus one cylinder plus three quarters axis one eighty",
        "neutral",
    )

    assert "cylinder +0.75 axis 180" in replies[-1]


@pytest.mark.parametrize(
    "talk", ["can you see the clock", "the sphere stays where it is mate", "plus the kids"]
)
def test_talk_without_a_power_asks_nothing(talk: str) -> None:
    replies, _ = said(*BEGUN, talk, "neutral")

    assert replies[-1].startswith("right eye: streak horizontal (power along 090) neutral")
