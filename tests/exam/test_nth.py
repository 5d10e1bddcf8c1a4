""" "The first", "the second": the meridians of a pass in the order they were read, and the one that is across."""

import pytest

from tests.exam.typing import typed
from voicelog.exam.entries import ReadingEntry

TWO = "i name the meridian\nright eye\nworking distance 67\n20 is plus one\n120 is plus two"


@pytest.mark.parametrize(
    ("line", "along_20_d", "along_120_d"),
    [
        ("the first should be plus two fifty", 2.5, 2.0),
        ("first should be plus two fifty", 2.5, 2.0),
        ("the first reading should be minus one", -1.0, 2.0),
        ("sorry the first was minus", -1.0, 2.0),
        ("the second one was plus three", 1.0, 3.0),
        ("no the second should be minus", 1.0, -2.0),
        ("should be plus three", 1.0, 3.0),
    ],
)
def test_a_power_put_right_is_that_of_the_meridian_it_counts(
    line: str, along_20_d: float, along_120_d: float
) -> None:
    _, state = typed(f"{TWO}\n{line}")

    assert [(each.meridian_deg, each.gross_d) for each in state.eyes["right"].neutral] == [
        (20, along_20_d),
        (120, along_120_d),
    ]


def test_all_looks_along_the_meridian_that_is_counted_move_with_it() -> None:
    answers, state = typed(f"{TWO}\n120 with at plus one\n120 neutral at plus two\nsorry the second is 110")

    assert answers[-1].outcome == "accepted"
    looks = [row.entry for row in state.ledger.live if isinstance(row.entry, ReadingEntry)]
    assert [each.meridian_deg for each in looks] == [20, 110, 110, 110]
    assert state.eyes["right"].status == "solved"


def test_a_number_that_may_be_a_power_is_asked_about() -> None:
    answers, state = typed(f"{TWO}\nthe first was twenty five\nyes")

    assert answers[-2].reply == "right eye: meridian 020 (streak 110) neutral, sphere +1.00: at 025 instead?"
    assert answers[-1].outcome == "accepted"
    assert [each.meridian_deg for each in state.eyes["right"].neutral] == [25, 120]


def test_a_meridian_that_was_read_is_not_taken_by_another_unasked() -> None:
    answers, _ = typed(f"{TWO}\nthe first was one twenty")

    assert answers[-1].reply == (
        "right eye: meridian 120 (streak 030) neutral, sphere +1.00, in the place of sphere +2.00?"
    )


def test_a_meridian_that_was_not_read_cannot_be_counted() -> None:
    answers, state = typed("right eye\nworking distance 67\nmeridian 20 is plus one\nthe second was plus two")

    assert answers[-1].reply == "no second meridian was read in this pass"
    assert len(state.eyes["right"].neutral) == 1


@pytest.mark.parametrize("line", ["the other meridian is plus two", "the second one is plus two"])
def test_the_other_meridian_is_asked_for_where_none_of_those_read_is_across(line: str) -> None:
    answers, state = typed(f"{TWO}\n{line}\n120")

    assert answers[-2].reply == "020 and 120 were read, and neither is across: which meridian?"
    assert [each.meridian_deg for each in state.eyes["right"].neutral] == [20, 120]


def test_ninety_degrees_on_that_is_across_and_not_along_ninety() -> None:
    _, state = typed(
        "i name the meridian\nright eye\nworking distance 67\n15 is plus one\nninety degrees on that minus one"
    )

    assert [each.meridian_deg for each in state.eyes["right"].neutral] == [15, 105]


def test_the_meridian_that_is_counted_may_be_of_the_eye_that_was_left() -> None:
    _, state = typed(f"{TWO}\nleft eye\nthe first one in the right was plus two comma five")

    assert [each.gross_d for each in state.eyes["right"].neutral] == [2.5, 2.0]
    assert state.eye == "left"
