"""A new exam in the record, for the commands that keep one."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager

from voicelog.errors import VoicelogError
from voicelog.session import Store
from voicelog.settings import Settings


@contextmanager
def kept(settings: Settings, *, keep: bool) -> Iterator[Store | None]:
    """The store of a new exam in the record; None where nothing is to be kept, or nothing can be, which is said."""
    if not keep:
        yield None
        return
    # Imported here: commands that keep nothing start without the database.
    from voicelog.record.errors import RecordError
    from voicelog.record.opening import open_record
    from voicelog.record.retention import expire_clips

    try:
        journal = open_record(settings)
    except VoicelogError as error:
        print(f"this exam is not kept: {error}", file=sys.stderr)
        yield None
        return
    with journal:
        try:
            expire_clips(journal)
        except RecordError as error:
            print(error, file=sys.stderr)  # no reason not to keep an exam
        yield journal.begin()
