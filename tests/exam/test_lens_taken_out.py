"""A lens that is named as taken out without its sign: asked, and the frame stays as it is."""

import pytest

from tests.exam.typing import typed


@pytest.mark.parametrize("line", ["take out one fifty put in plus two", "swap the one fifty for plus two"])
def test_a_lens_taken_out_without_its_sign_is_asked_about(line: str) -> None:
    lines, state = typed(f"right eye\nplus two in place\n{line}")

    assert lines[-1].outcome == "asked"
    assert "not clear" in lines[-1].reply
    assert state.eyes["right"].lenses.sphere_d == 2.0
