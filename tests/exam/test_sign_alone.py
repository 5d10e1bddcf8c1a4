"""A sign put right in one meridian: the size of its power stays."""

import pytest

from tests.exam.typing import Typist

READ = ("right eye", "working distance 67", "streak 90 plus two", "streak 180 plus three")


def powers_d(*lines: str) -> dict[int, float]:
    """Gross power of each neutral of the right eye by its meridian of power, dioptres."""
    typist = Typist()
    for line in (*READ, *lines):
        typist.type(line)
    return {each.meridian_deg: each.gross_d for each in typist.state.eyes["right"].neutral}


@pytest.mark.parametrize(
    "line",
    [
        "make the vertical minus",
        "the vertical should be minus",
        "change streak vertical to minus",
        "sorry the vertical is minus",
        "the vertical is minus not plus",
        "the right vertical should be minus",
        "the ninety one is minus not plus",
    ],
)
def test_one_meridian_gets_another_sign(line: str) -> None:
    assert powers_d(line) == {180: -2.0, 90: 3.0}


def test_both_get_another_sign_after_a_yes() -> None:
    assert powers_d("both should be minus") == {180: 2.0, 90: 3.0}
    assert powers_d("both should be minus", "yes") == {180: -2.0, 90: -3.0}


def test_a_meridian_that_was_not_read_gets_none() -> None:
    assert powers_d("make streak forty five minus") == {180: 2.0, 90: 3.0}


def test_it_is_in_words_what_it_does() -> None:
    typist = Typist()
    for line in READ:
        typist.type(line)
    assert typist.type("make the vertical minus").reply.endswith("sphere -2.00, instead of +2.00")
