"""Words of no phrase that make of what stands beside them what was not found: nothing is entered by passing them over."""

import pytest

from voicelog.session import Session

WORDS = (
    "overcorrected",
    "rejected",
    "aiming for",
    "hating",
    "untouched",
    "unsure",
    "planned",
    "cancelled",
    "nowhere",
)


@pytest.mark.parametrize("word", WORDS)
def test_no_reading_is_entered_beside_it(word: str) -> None:
    session = Session()
    for line in ("i name the streak", "right eye"):
        session.type_line(line)

    taken = session.type_line(f"vertical {word} plus two")

    assert (taken.outcome, taken.acts) == ("asked", ())
    assert not session.state.eyes["right"].readings
