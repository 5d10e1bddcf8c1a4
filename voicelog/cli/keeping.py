"""Exams in the record, for the commands that keep them."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from voicelog.errors import VoicelogError
from voicelog.session import Store
from voicelog.settings import Settings

if TYPE_CHECKING:
    from voicelog.record.journal import Journal


@contextmanager
def kept(settings: Settings, *, keep: bool) -> Iterator[Store | None]:
    """The store of a new exam in the record, kept from its first entry on; None where nothing is to be kept.

    Raises VoicelogError where it cannot be: an exam that nobody keeps is held only by who says so.
    """
    with kept_record(settings, keep=keep) as journal:
        if journal is None:
            yield None
            return
        from voicelog.record.beginning import KeptFromFirstEntry

        yield KeptFromFirstEntry(journal.begin())


@contextmanager
def kept_record(settings: Settings, *, keep: bool) -> Iterator["Journal | None"]:
    """The record; None where nothing is to be kept. Old sound goes, and whatever keeps it from going stops nobody.

    Raises VoicelogError where it cannot be opened or written to.
    """
    if not keep:
        yield None
        return
    # Imported here: commands that keep nothing start without the database.
    from voicelog.record.held import take_up
    from voicelog.record.opening import open_record
    from voicelog.record.retention import expire_clips

    try:
        journal = open_record(settings)
        with journal.database.writing():
            pass  # a record that can only be read is found out now, and not by the first entry
    except VoicelogError as error:
        raise type(error)(f"{error}; --no-record runs an exam that is not kept") from error
    with journal:
        try:
            expire_clips(journal)
        except (VoicelogError, OSError) as error:
            print(f"old sound was not removed: {error}", file=sys.stderr)
        for line in take_up(journal):
            print(line, file=sys.stderr)
        yield journal
