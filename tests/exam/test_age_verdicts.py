"""An exam against one guideline: at the age said, at the one listed, at several, at none; complete or not."""

import pytest

from tests.exam.typing import exam, typed
from voicelog.exam.age_verdicts import GUIDELINES, is_complete, limits_of, verdict
from voicelog.exam.entries import AgeEntry
from voicelog.exam.guidance import data

BOTH = "working distance 50\nright eye\nstreak 90 neutral at {0}\nstreak 180 neutral at {0}\nleft eye\nstreak 90 neutral at {0}\nstreak 180 neutral at {0}"


@pytest.mark.parametrize(
    ("age", "gross", "outcome"),
    [
        # Limits of hyperopia: 2013 4.50 D to 30 months, 4.00 to 48, 3.50 to 83. 2 D come off.
        (AgeEntry(months=18), "+6.25", "not above"),
        (AgeEntry(months=40), "+6", "not above"),
        (AgeEntry(months=60), "+5.75", "above"),
        (AgeEntry(years=2), "+6.25", "perhaps above"),
        (AgeEntry(months=11), "+9", "no limit at this age"),
        (AgeEntry(years=7), "+9", "no limit at this age"),
        (None, "+9", "age not known"),
    ],
)
def test_at_an_age_of_the_list(age: AgeEntry | None, gross: str, outcome: str) -> None:
    state = exam(BOTH.format(gross))

    assert [verdict(state, each, age).outcome for each in GUIDELINES] == [outcome]


def test_the_age_that_was_said_goes_before_the_listed_one() -> None:
    state = exam(f"age 5 years\n{BOTH.format('+5.75')}")

    assert verdict(state, "2013", AgeEntry(months=18)).outcome == "above"
    assert verdict(state, "2013", AgeEntry(months=18)).above == (
        "right eye +3.75 D in the meridian with most plus",
        "left eye +3.75 D in the meridian with most plus",
    )


def test_what_is_above_counts_though_the_other_eye_is_missing() -> None:
    one_eye = "working distance 50\nright eye\nstreak 90 neutral at {0}\nstreak 180 neutral at {0}"

    assert verdict(exam(one_eye.format("+7")), "2013", AgeEntry(years=4)).outcome == "above"
    assert verdict(exam(one_eye.format("+3")), "2013", AgeEntry(years=4)).outcome == "incomplete"


def test_an_eye_in_conflict_has_no_result() -> None:
    _, state = typed(f"{BOTH.format('+3')}\nstreak 90 with at +5\nstreak 90 against at +2")

    assert state.eyes["left"].status == "conflict"
    assert not is_complete(state)
    assert verdict(state, "2013", AgeEntry(years=4)).outcome == "incomplete"


def test_every_limit_is_of_the_guideline_that_its_source_names() -> None:
    assert sum(len(limits_of(each)) for each in GUIDELINES) == len(data().age_limit)
    for each in data().age_limit:
        assert each.guideline in each.text
        assert each.id.endswith(each.guideline)
        assert "Donahue" in each.source
