"""Limits that go by age: at a known age, at one that may fit, and without any."""

import pytest

from tests.exam.typing import exam, typed
from voicelog.exam.age_limits import ages
from voicelog.exam.remarks import exam_remarks

EYES = "vertex twelve\nright eye\nrefined sphere {}"


def remarked(age: str, refined: str) -> dict[str, str]:
    return {each.id: each.text for each in exam_remarks(exam(f"{age}\n{EYES.format(refined)}".strip()))}


@pytest.mark.parametrize(
    ("age", "refined", "expected"),
    [
        ("age eighteen months", "plus four and a half", set()),
        ("age eighteen months", "plus four seventy five", {"hyperopia_2013"}),
        ("age eleven months", "plus five", set()),
        ("age thirty one months", "plus four and a quarter", {"hyperopia_2013"}),
        ("age four years one month", "plus three seventy five", {"hyperopia_2013"}),
        ("age three", "minus one seventy five", set()),
        ("age five", "minus one seventy five", {"myopia_2013"}),
        ("age six", "plus one cylinder minus two axis ninety", {"astigmatism_2013"}),
        ("age seven", "plus five", set()),
        ("age fifty", "minus five", set()),
    ],
)
def test_a_known_age(age: str, refined: str, expected: set[str]) -> None:
    assert (
        remarked(age, refined).keys() - {"at_cornea"} == expected
    )  # strong lenses are told there at any age


def test_an_age_in_years_that_lies_in_two_bands_says_for_which_months() -> None:
    """Two years are 24 to 35 months: the limit is 4.50 D to 30 months, then 4.00 D."""
    found = remarked("age two", "plus four and a quarter")

    assert found["hyperopia_2013"].startswith("right eye: if 31 to 35 months old: +4.25 D")


def test_without_an_age_no_limit_is_applied_in_silence() -> None:
    found = remarked("", "plus four and a quarter")

    assert found.keys() == {"age_not_noted", "at_cornea"}
    assert (
        "if 31 to 83 months old: right eye +4.25 D in the meridian with most plus" in found["age_not_noted"]
    )
    assert remarked("", "plus three") == {}


def test_ages_in_words() -> None:
    assert [ages(*span) for span in ((31, 48), (48, 83), (36, 47), (18, 18), (12, 83))] == [
        "31 to 48 months old", "4 to 6 years old", "3 years old", "18 months old", "12 to 83 months old"
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("line", "reply"),
    [
        ("age 3 years 6 months", "age 3 years 6 months"),
        ("age one year", "age 1 year"),
        ("age 80 months", "80 months are more than 71: say the age again"),
        ("age three years fourteen months", "14 months are more than 11: say the age again"),
    ],
)
def test_what_is_answered(line: str, reply: str) -> None:
    assert typed(line)[0][0].reply == reply


def test_the_age_is_put_right_and_shown() -> None:
    answers, state = typed("age seven\ncorrection age eight")

    assert answers[-1].outcome == "accepted"
    assert [each.entry.value_words() for each in state.findings.found] == ["8 years"]
