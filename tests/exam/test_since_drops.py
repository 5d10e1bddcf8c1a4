"""Minutes from the drops to each wet reading, and what is remarked on when they were few."""

from datetime import datetime, timedelta

import pytest

from tests.exam.typing import exam
from voicelog.exam.entries import DropsEntry
from voicelog.exam.remarks import exam_remarks
from voicelog.exam.since_drops import given_at, since_drops
from voicelog.exam.summary import summary
from voicelog.phrases.meanings import Clock

HALF_PAST_TWO = datetime(2025, 11, 25, 14, 30).astimezone()
READINGS = "working distance 50\nright eye\nstreak 90 neutral plus three\nstreak 180 neutral plus three"


@pytest.mark.parametrize(
    ("clock", "minutes"),
    [
        ((14, 15), 15),
        ((2, 15), 15),  # of a twelve-hour clock
        ((9, 30), 300),
        ((14, 30), 0),
        ((14, 45), 23 * 60 + 45),  # not yet: yesterday's
        ((2, 45), 11 * 60 + 45),  # in the night: not yet in the afternoon
    ],
)
def test_a_time_of_day_is_the_last_one(clock: tuple[int, int], minutes: int) -> None:
    drops = DropsEntry(agent="atropine", eye="both", clock=Clock(hour=clock[0], minute=clock[1]))

    assert HALF_PAST_TWO - given_at(drops, HALF_PAST_TWO) == timedelta(minutes=minutes)


def test_minutes_stand_beside_each_wet_reading_of_the_eye() -> None:
    lines = f"drops cyclopentolate one percent right eye thirty minutes ago\n{READINGS}\nleft eye\nstreak 90 neutral plus three"

    state = exam(lines)

    assert [(each.minutes, each.early) for each in since_drops(state, "right")] == [(30, False), (30, False)]
    assert list(since_drops(state, "left")) == []
    shown = summary(state)["eyes"]["right"]["since_drops"]
    assert [each["entry"] for each in shown] == [each.id for each in state.eyes["right"].in_hand.readings]
    assert shown[0]["drops"] == "cyclopentolate 1 %"


@pytest.mark.parametrize(
    ("drops", "early"),
    [
        (
            "drops cyclopentolate one percent both eyes twenty minutes ago",
            "read 20 minutes after cyclopentolate 1 %",
        ),
        ("drops cyclopentolate one percent both eyes twenty five minutes ago", None),
        ("drops tropicamide one percent both eyes", "read 0 minutes after tropicamide 1 %"),
        ("drops phenylephrine both eyes", None),
    ],
)
def test_too_early_is_remarked_on(drops: str, early: str | None) -> None:
    """25 minutes for cyclopentolate: its label, and Twelker & Mutti 2001."""
    found = [each for each in exam_remarks(exam(f"{drops}\n{READINGS}")) if each.id == "read_early"]

    assert [each.finding for each in found] == ([] if early is None else [early])
