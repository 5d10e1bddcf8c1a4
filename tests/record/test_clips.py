"""Clips: there before their event, whole, private, and gone when their days are over."""

import hashlib
import os
import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
import soundfile

from voicelog.record.clips import Clips
from voicelog.record.errors import RecordError
from voicelog.record.events import Attested, ClipsExpired
from voicelog.record.exam_store import ExamStore
from voicelog.record.journal import Journal
from voicelog.record.retention import expire_clips
from voicelog.record.verifying import verify

from .cases import MORNING, NOON, dictated, heard_words

TONE = (0.5 * np.sin(np.arange(24000) * 2 * np.pi * 440 / 16000)).astype(np.float32)


def with_clip(journal: Journal, at: datetime, samples: np.ndarray = TONE) -> tuple[ExamStore, str]:
    """An exam that begins at `at`, with one heard line a minute later; its store and the clip's hash."""
    store, _ = dictated(journal, at=at)
    clip = store.keep_clip(samples)
    store.append(heard_words(store, "other talk", at + timedelta(minutes=1), clip))
    assert clip.hash is not None
    return store, clip.hash


def test_a_clip_is_flac_of_what_was_heard(journal: Journal) -> None:
    store, clip = with_clip(journal, MORNING)
    path = journal.clips.path(store.exam, clip)

    samples, rate = soundfile.read(path)

    assert path.name == hashlib.sha256(path.read_bytes()).hexdigest() + ".flac"
    assert soundfile.info(path).format == "FLAC"
    assert rate == 16000
    assert samples.shape == TONE.shape
    # Half of one of 65,536 steps is the most that rounding to 16 bits can change.
    assert np.abs(samples - TONE).max() <= 1 / 65536 + 1e-7
    assert journal.exam(store.exam).clips[clip].heard.clip_s == 1.5  # type: ignore[union-attr]


def test_samples_beyond_full_scale_do_not_wrap(journal: Journal) -> None:
    store = journal.begin()
    clip = store.keep_clip(np.array([2.0, -2.0, 0.0], np.float32))

    samples, _ = soundfile.read(journal.clips.path(store.exam, str(clip.hash)))

    assert samples.tolist() == pytest.approx([1.0, -1.0, 0.0], abs=1 / 32768)


def test_a_clip_is_on_the_disk_before_its_name_is(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """Content synced, then named, then the folder synced: in this order, whatever is pulled out when."""
    done: list[str] = []
    fsync, replace = os.fsync, os.replace

    def noted_fsync(handle: int) -> None:
        done.append(
            "folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else f"file of {os.fstat(handle).st_size}"
        )
        fsync(handle)

    def noted_replace(old: Path, new: Path) -> None:
        done.append("named")
        replace(old, new)

    monkeypatch.setattr(os, "fsync", noted_fsync)
    monkeypatch.setattr(os, "replace", noted_replace)
    store = journal.begin()
    clip = store.keep_clip(TONE)

    size = journal.clips.path(store.exam, str(clip.hash)).stat().st_size
    assert done == [f"file of {size}", "named", "folder"]


def test_zero_days_keep_none_but_the_length(folder: Path) -> None:
    with Journal.open(folder, clip_days=0) as journal:
        clip = journal.begin().keep_clip(TONE)

    assert (clip.hash, clip.length_s) == (None, 1.5)
    assert not list(folder.rglob("*.flac"))


@pytest.mark.parametrize("days", [-1, 36_501])
def test_days_that_cannot_be_are_refused(tmp_path: Path, days: int) -> None:
    with pytest.raises(RecordError, match=f"{days} days; allowed are 0"):
        Clips(tmp_path, days)


def test_missing_and_altered_clips_are_reported_and_are_no_fault(journal: Journal) -> None:
    store, clip = with_clip(journal, MORNING)
    assert verify(journal).missing_clips == ()

    path = journal.clips.path(store.exam, clip)
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    verdict = verify(journal)
    assert verdict.faults == ()
    assert [str(each) for each in verdict.missing_clips] == [
        f"exam {store.exam}, event 11: the clip {clip[:12]} is altered"
    ]

    path.unlink()
    assert [each.what for each in verify(journal).missing_clips] == [f"the clip {clip[:12]} is missing"]
    assert journal.exam(store.exam).state.events[-1].text == "other talk"  # type: ignore[union-attr]


def test_clips_go_when_their_days_are_over(journal: Journal) -> None:
    """Thirty days: the day before they stay, the day after they go; hash, length and words remain."""
    old, old_clip = with_clip(journal, MORNING)
    young, young_clip = with_clip(journal, MORNING + timedelta(days=20), TONE / 2)
    attested, attested_clip = with_clip(journal, MORNING, TONE / 4)
    attested.append(Attested(number=attested.record.next_number, at=NOON, by="AB"))  # type: ignore[union-attr]

    assert expire_clips(journal, MORNING + timedelta(days=30), sure=True) == 0
    assert expire_clips(journal, MORNING + timedelta(days=30, minutes=2), sure=True) == 2

    assert not journal.clips.path(old.exam, old_clip).parent.exists()
    assert not journal.clips.path(attested.exam, attested_clip).parent.exists()
    assert journal.clips.state(young.exam, young_clip) == "kept"
    record = journal.exam(old.exam)
    assert record.expired == {old_clip}
    assert record.events[-1] == ClipsExpired(
        number=12, at=MORNING + timedelta(days=30, minutes=2), days=30, clips=(old_clip,)
    )
    assert record.clips[old_clip].text == "other talk"
    verdict = verify(journal)
    assert (verdict.faults, verdict.missing_clips, verdict.clips) == ((), (), 1)
    assert expire_clips(journal, MORNING + timedelta(days=30, minutes=3), sure=True) == 0


def test_a_clip_that_no_event_names_goes_by_the_time_of_its_file(journal: Journal) -> None:
    """As after a crash between the clip and its event; and one of an exam that never began."""
    store, _ = with_clip(journal, MORNING)
    spare = journal.clips.keep(store.exam, (TONE / 3).astype(np.float32))
    lonely = journal.begin(MORNING)
    never = lonely.keep_clip(TONE)
    now = datetime.now(UTC)
    for exam, clip in ((store.exam, spare), (lonely.exam, never)):
        os.utime(journal.clips.path(exam, str(clip.hash)), (now.timestamp(),) * 2)

    expire_clips(journal, MORNING + timedelta(days=31), sure=True)
    assert journal.clips.state(store.exam, str(spare.hash)) == "kept"
    expire_clips(journal, now + timedelta(days=31), sure=True)

    assert list(journal.clips.folder.rglob("*.flac")) == []
    assert journal.exam(store.exam).expired


def test_expiry_that_was_written_down_but_not_done_is_done_later(journal: Journal) -> None:
    """A crash between the event and the removal leaves the file; the next run takes it."""
    store, clip = with_clip(journal, MORNING)
    content = journal.clips.path(store.exam, clip).read_bytes()
    later = MORNING + timedelta(days=40)
    expire_clips(journal, later, sure=True)
    journal.clips.path(store.exam, clip).parent.mkdir()
    journal.clips.path(store.exam, clip).write_bytes(content)

    assert expire_clips(journal, later, sure=True) == 1
    assert len(journal.exam(store.exam).events) == 13


def test_stray_folders_are_left_alone(journal: Journal) -> None:
    with_clip(journal, MORNING)
    stray = journal.clips.folder / "00000000-my own folder"
    stray.mkdir()
    (stray / "letter.txt").write_text("mine")

    expire_clips(journal, MORNING + timedelta(days=400), sure=True)

    assert (stray / "letter.txt").read_text() == "mine"
