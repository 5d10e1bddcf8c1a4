"""A wrong clock removes no sound, turns no times round, and dates no attestation before its exam."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from voicelog.cli import record_whole
from voicelog.record.clock import ClockInDoubtError
from voicelog.record.errors import CannotFollowError
from voicelog.record.events import Addendum, Attested
from voicelog.record.exam_store import ExamStore
from voicelog.record.journal import Journal
from voicelog.record.retention import expire_clips
from voicelog.record.verifying import verify

from .cases import MORNING, dictated, heard_words

TONE = np.sin(np.arange(1600) / 9).astype(np.float32)
DAY = timedelta(days=1)


def with_sound(journal: Journal, at: datetime) -> ExamStore:
    store, _ = dictated(journal, ("right eye",), at=at)
    later = at + timedelta(minutes=1)
    store.append(heard_words(store, f"said {at:%d}", later, store.keep_clip(TONE / np.float32(1 + at.day))))
    return store


def test_a_clock_far_ahead_removes_nothing_once_or_twice(journal: Journal) -> None:
    """Nor after an exam was kept by it, whose events then have the wrong time."""
    with_sound(journal, MORNING)
    assert expire_clips(journal, MORNING) == 0
    wrong = MORNING + 40 * DAY

    for _ in range(2):
        with pytest.raises(ClockInDoubtError, match="40 days after the record was last used"):
            expire_clips(journal, wrong)
        with_sound(journal, wrong)
    assert expire_clips(journal, MORNING + DAY) == 0
    assert verify(journal).clips == 3
    assert verify(journal).missing_clips == ()


def test_a_record_from_before_is_held_against_its_newest_exam(journal: Journal) -> None:
    with_sound(journal, MORNING)

    with pytest.raises(ClockInDoubtError):
        expire_clips(journal, MORNING + 40 * DAY)


def test_day_by_day_sound_goes_unasked(journal: Journal) -> None:
    with_sound(journal, MORNING)

    removed = [expire_clips(journal, MORNING + days * DAY) for days in range(33)]

    assert removed == [0] * 31 + [1, 0]


def test_a_clock_that_went_back_is_asked_about(journal: Journal) -> None:
    with_sound(journal, MORNING - 40 * DAY)
    assert expire_clips(journal, MORNING - 40 * DAY) == 0
    assert expire_clips(journal, MORNING + DAY, sure=True) == 1
    with_sound(journal, MORNING - 40 * DAY)

    with pytest.raises(ClockInDoubtError, match="the record was used on"):
        expire_clips(journal, MORNING - DAY)
    assert expire_clips(journal, MORNING - DAY, sure=True) == 1


def test_nothing_is_asked_while_nothing_would_go(journal: Journal) -> None:
    """After a holiday; and the clock is still not believed by that."""
    with_sound(journal, MORNING)
    assert expire_clips(journal, MORNING) == 0
    assert expire_clips(journal, MORNING + 20 * DAY) == 0
    with pytest.raises(ClockInDoubtError):
        expire_clips(journal, MORNING + 40 * DAY)


def test_the_command_asks(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    with Journal.open() as journal:
        with_sound(journal, datetime.now(UTC) - 40 * DAY)

    assert not record_whole.expire()
    assert "nothing is removed: set the clock first" in capsys.readouterr().out
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("builtins.input", lambda _: "yes")
    assert record_whole.expire()
    assert "1 file of sound removed" in capsys.readouterr().out


def test_a_clock_set_back_in_an_exam_stops_no_entry_and_turns_no_time_round(journal: Journal) -> None:
    store, session = dictated(journal, at=MORNING)
    last = session.state.events[-1].at

    store.append(heard_words(store, "talk", MORNING - 400 * DAY))
    store.append(heard_words(store, "more", last + timedelta(seconds=1)))

    times = [event.at for event in journal.exam(store.exam).events]
    assert times == sorted(times)
    assert times[-2:] == [last, last + timedelta(seconds=1)]
    assert store.record == journal.exam(store.exam)
    assert verify(journal).faults == ()


def test_nothing_is_vouched_for_before_its_exam(journal: Journal) -> None:
    store, _ = dictated(journal, at=MORNING)
    number, before = store.next_number, MORNING - DAY
    for event in (
        Attested(number=number, at=before, by="AB"),
        Addendum(number=number, at=before, by="AB", text="x"),
    ):
        with pytest.raises(CannotFollowError, match=r"before the exam.s last event at .*: set the clock"):
            store.append(event)
    assert len(journal.rows(store.exam)) == number
