"""A lens that is named as taken out without its sign: asked, and the frame stays as it is."""

import pytest

from tests.exam.typing import typed


@pytest.mark.parametrize("line", ["take out one fifty put in plus two", "swap the one fifty for plus two"])
def test_a_lens_taken_out_without_its_sign_is_asked_about(line: str) -> None:
    lines, state = typed(f"right eye\nplus two in place\n{line}")

    assert lines[-1].outcome == "asked"
    assert "not clear" in lines[-1].reply
    assert state.eyes["right"].lenses.sphere_d == 2.0


def test_a_working_distance_lens_of_no_clear_power_is_asked_about() -> None:
    """ "Two five" is 2.50 or 2.05, also where the lens was in for everything before."""
    lines, state = typed("working distance 67\nright eye\nthe plus two five was in the whole time")

    assert lines[-1].outcome == "asked"
    assert "not clear" in lines[-1].reply
    assert not state.allowance.lens_in


_BOTH_READ = """
working distance 67
right eye
vertical meridian plus three quarters
horizontal meridian plus one and a half
the plus one fifty working lens was in for the right eye
"""


@pytest.mark.parametrize("line", ["take it out", "I take it out now for the left", "lens out"])
def test_out_behind_the_working_distance_lens_asks_which(line: str) -> None:
    """It was the lens in the frame that came out, and the other eye was read as with the working lens."""
    lines, state = typed(f"{_BOTH_READ}{line}")

    assert lines[-1].outcome == "asked"
    assert "working distance lens out?" in lines[-1].reply
    assert state.eyes["right"].lenses.sphere_d == 1.5

    _, state = typed(f"{_BOTH_READ}{line}\nyes")
    assert not state.allowance.lens_in
    assert state.eyes["right"].lenses.sphere_d == 1.5


def test_which_lens_comes_out_is_answered_by_naming_it() -> None:
    lines, state = typed(f"{_BOTH_READ}take it out\nlenses out")

    assert lines[-1].outcome == "accepted"
    assert state.question is None
    assert state.eyes["right"].lenses.sphere_d is None
    assert state.allowance.lens_in


def test_out_with_an_entry_since_is_of_the_frame() -> None:
    lines, state = typed(f"{_BOTH_READ}vertical meridian plus one\nlens out")

    assert lines[-1].outcome == "accepted"
    assert state.eyes["right"].lenses.sphere_d is None
    assert state.allowance.lens_in
