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
