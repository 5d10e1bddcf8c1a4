"""The computer's clock, held against the time at which the record was last used.

A clock that jumps ahead would remove all sound at once. So the last time that was believed is kept in the data folder,
and a step of more than a day from it, or back, is believed only when somebody says that it is right.
"""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from sqlalchemy import func, select

from voicelog.record.chain import utc_text
from voicelog.record.errors import RecordError, in_plain_words
from voicelog.record.journal import Journal
from voicelog.record.places import write_private
from voicelog.record.tables import exam as exam_table

CLOCK_NAME: Final = "voicelog.clock"
MOST_AHEAD: Final = timedelta(days=1)
MOST_BACK: Final = timedelta(minutes=5)


class ClockInDoubtError(RecordError):
    """The clock is not where the record was last used; nothing is removed by it."""


def believed(journal: Journal, now: datetime) -> None:
    """Believe the clock from here on. Raises RecordError."""
    with in_plain_words(str(_path(journal))):
        write_private(_path(journal), f"{utc_text(now)}\n".encode())


def doubt(journal: Journal, now: datetime) -> str | None:
    """Why the clock is not believed, in words; None when it is. Raises RecordError."""
    last = _last_believed(journal)
    if last is None:
        return None
    if now < last - MOST_BACK:
        return f"the clock says {now:%Y-%m-%d %H:%M} UTC, and the record was used on {last:%Y-%m-%d %H:%M}"
    if now > last + MOST_AHEAD:
        days = (now - last).days
        return f"the clock says {now:%Y-%m-%d}, {days} day{'s' if days > 1 else ''} after the record was last used"
    return None


def _last_believed(journal: Journal) -> datetime | None:
    """None for a record that was never used: there is nothing to hold the clock against."""
    try:
        return datetime.fromisoformat(_path(journal).read_text(encoding="ascii").strip())
    except (OSError, ValueError):
        pass
    with journal.database.reading() as connection:
        newest = connection.execute(select(func.max(exam_table.c.changed_at))).scalar_one_or_none()
    return None if newest is None else datetime.fromisoformat(str(newest)).astimezone(UTC)


def _path(journal: Journal) -> Path:
    return journal.clips.folder.parent / CLOCK_NAME
