"""Sound goes when its days are over, by a clock that is believed; that it went is written into the exam first."""

from datetime import UTC, datetime, timedelta
from itertools import takewhile

from voicelog.record import clock
from voicelog.record.errors import NoSuchExamError
from voicelog.record.events import ClipsExpired
from voicelog.record.journal import Journal
from voicelog.record.names import day


def expire_clips(journal: Journal, now: datetime | None = None, *, sure: bool = False) -> int:
    """Remove this machine's clips that are older than the journal keeps them; how many files went.

    Raises ClockInDoubtError when some would go by a clock that stepped by more than a day, or back, and nobody is
    `sure` of it; RecordError when some cannot be removed. What was not removed then goes the next time.
    """
    now = now or datetime.now(UTC)
    before = now - timedelta(days=journal.clips.days)
    why = None if sure else clock.doubt(journal, now)
    # Names begin with the day, so all further exams are younger.
    exams = list(takewhile(lambda exam: exam <= f"{day(before)}~", journal.clips.exams()))
    if why is not None:
        if exams:
            raise clock.ClockInDoubtError(
                f"{why}: old sound stays until somebody says that the clock is right: voicelog record expire"
            )
        return 0
    clock.believed(journal, now)
    return sum(_expire(journal, exam, before, now) for exam in exams)


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
