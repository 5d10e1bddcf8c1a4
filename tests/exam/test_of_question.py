"""While a question is open and nothing was entered since, "that" is what was asked about, never the entry before it."""

import pytest

from tests.exam.typing import Typist

BEGINS = ("i name the streak", "working distance 50", "right eye", "streak 90 plus two and a half")
UNSIGNED = "streak 180 two and three quarters"
FIRST = "right eye: streak vertical (power along 180) neutral, sphere +2.50"


def exam(*lines: str) -> tuple[list[str], Typist]:
    """What stands at the end, in words, first to last, without settings."""
    typist = Typist()
    for line in (*BEGINS, *lines):
        typist.type(line)
    kept = [row.entry.words() for row in typist.state.ledger.live]
    return [words for words in kept if "sphere" in words], typist


@pytest.mark.parametrize(
    ("line", "entered"),
    [
        ("that's a plus too", "neutral, sphere +2.75"),
        ("make that plus three", "neutral, sphere +3.00"),
        ("sorry, minus", "neutral, sphere -2.75"),
    ],
)
def test_a_part_that_completes_what_was_asked_about_enters_it(line: str, entered: str) -> None:
    kept, typist = exam(UNSIGNED, line)
    assert kept == [FIRST, f"right eye: streak horizontal (power along 090) {entered}"]
    assert typist.state.question is None


@pytest.mark.parametrize(
    ("line", "entered"),
    [
        (
            "make it three and a quarter",
            "right eye: streak horizontal (power along 090) neutral, sphere +3.25",
        ),
        ("sorry, streak 170", "right eye: streak 170 (power along 080) neutral, sphere +2.75"),
        ("sorry, it was with", "right eye: streak horizontal (power along 090) with, sphere +2.75"),
        ("that was the left", "left eye: streak horizontal (power along 090) neutral, sphere +2.75"),
    ],
)
def test_another_part_is_changed_in_what_waits_and_the_question_stays(line: str, entered: str) -> None:
    kept, typist = exam(UNSIGNED, line)
    assert kept == [FIRST]
    assert typist.state.question is not None
    assert typist.state.question.text.endswith("plus or minus?")
    assert exam(UNSIGNED, line, "plus")[0] == [FIRST, entered]


def test_behind_something_that_was_entered_a_correction_is_of_that() -> None:
    kept, typist = exam(UNSIGNED, "streak 45 against, plus one", "make that plus two")
    assert kept == [FIRST, "right eye: streak 045 (power along 135) against, sphere +2.00"]
    assert typist.state.question is not None


def test_of_which_eye_it_was_is_an_answer_to_which_eye() -> None:
    typist = Typist()
    for line in (
        "i name the streak",
        "working distance 50",
        "streak 90 plus two and a half",
        "it is for the right eye",
    ):
        typist.type(line)
    assert [row.entry.words() for row in typist.state.ledger.live][-1] == FIRST


@pytest.mark.parametrize(
    ("line", "same"),
    [
        ("streak 180 with cylinder minus one axis 105", "correction -1.00"),
        ("another minus a half", "correction -0.50"),
    ],
)
def test_the_same_value_as_a_correction_is_no_yes(line: str, same: str) -> None:
    kept, typist = exam("sphere -1.25", "cylinder +1.00 axis 90", line)
    asked = typist.state.question
    assert asked is not None

    after, typist = exam("sphere -1.25", "cylinder +1.00 axis 90", line, same)

    assert after == kept
    assert typist.state.question is not None
    assert typist.state.question.text == asked.text
