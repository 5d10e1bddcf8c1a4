"""What one small word leaves open is asked about: "with" before a place, "at" behind a second power."""

import pytest

from tests.english import load
from voicelog.phrases import meanings as say
from voicelog.phrases.lines import TYPED, LineReader

LINE = LineReader(load(), "line in_hand", *TYPED)


@pytest.mark.parametrize(
    "line",
    [
        "with the vertical streak i am having plus two",
        "plus one with vertical streak",
        "plus two fifty with the vertical",
        "plus two minus one at ninety",
        "plus one fifty minus seventy five at one eighty",
        "the ninety one is plus two",
    ],
)
def test_two_things_may_be_meant(line: str) -> None:
    assert len(LINE.understand(line).readings) == 2


@pytest.mark.parametrize(
    "line",
    [
        "with the streak vertical neutral at plus two",
        "with vertical streak neutral with plus four point five",
        "vertical with horizontal with",
        "with on the vertical against on the horizontal",
        "still with vertical",
        "plus one vertical with",
        "at ninety with plus two",
        "plus two minus one axis ninety",
        "plus two with minus one cylinder at ninety",
        "plus two at ninety",
        "meridian ninety one plus two",
    ],
)
def test_one_thing_is_meant(line: str) -> None:
    assert len(LINE.understand(line).readings) == 1


def test_the_second_lens_may_be_of_a_place() -> None:
    """Published usage differs on what "at" names: a meridian with some, the axis of a cylinder with others."""
    as_cylinder, in_place = LINE.understand("plus two minus one at ninety").readings

    assert [type(each) for each in as_cylinder] == [say.Lenses]
    assert in_place == (
        say.Lenses(lens=say.Lens(sphere=say.Power(size_d=2, sign=1))),
        say.Reading(
            where=say.Where(names=None, angle=90),
            motion="neutral",
            lens=say.Lens(sphere=say.Power(size_d=1, sign=-1)),
        ),
    )
