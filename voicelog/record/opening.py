"""The record as the settings say."""

from pathlib import Path

from voicelog.record.journal import Journal
from voicelog.settings import Settings


def open_record(settings: Settings) -> Journal:
    """The journal where the settings put it. Raises RecordError, MissingPartError."""
    heads = settings.record_heads
    return Journal.open(
        server=settings.record_server,
        clip_days=settings.clip_days,
        heads_folder=None if heads is None else Path(heads).expanduser(),
    )
