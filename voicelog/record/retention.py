"""Sound goes when its days are over; that it went is written into the exam first."""

from datetime import UTC, datetime, timedelta

from voicelog.record.errors import NoSuchExamError
from voicelog.record.events import ClipsExpired
from voicelog.record.journal import Journal
from voicelog.record.names import day


def expire_clips(journal: Journal, now: datetime | None = None) -> int:
    """Remove this machine's clips that are older than the journal keeps them; how many files went.

    Raises RecordError; what was not removed then goes the next time.
    """
    now = now or datetime.now(UTC)
    before = now - timedelta(days=journal.clips.days)
    removed = 0
    for exam in journal.clips.exams():
        if exam > f"{day(before)}~":
            break  # names begin with the day, so all further exams are younger
        removed += _expire(journal, exam, before, now)
    return removed


def _expire(journal: Journal, exam: str, before: datetime, now: datetime) -> int:
    files = journal.clips.files(exam)
    due = _note(journal, exam, before, now)
    # What no event names (a crash came between clip and event) goes by the time of its file.
    gone = [name for name, written in files.items() if due.get(name, written < before)]
    journal.clips.remove(exam, gone)
    return len(gone)


def _note(journal: Journal, exam: str, before: datetime, now: datetime) -> dict[str, bool]:
    """Write down which clips of an exam expire now; for every clip it names, whether its time is over."""
    try:
        record = journal.exam(exam)
    except NoSuchExamError:
        return {}
    over = {clip: said.at < before for clip, said in record.clips.items()}
    fresh = sorted(clip for clip, is_over in over.items() if is_over and clip not in record.expired)
    if fresh:
        expired = ClipsExpired(number=record.next_number, at=now, days=journal.clips.days, clips=tuple(fresh))
        journal.reopen(exam).append(expired)
    return over
