"""The chain: every event carries a SHA-256 over itself and over the hash of the event before it.

The hash covers, joined by line feeds: the hash before (64 zeros for an exam's first event), the exam's name, the
event's number, its time (UTC), its kind, and the canonical JSON of the typed event (keys sorted, no spaces, ASCII).
It finds accidents and quiet changes; it is no proof against somebody who rewrites a whole exam with all its hashes:
for that, note down the digest that `voicelog record verify` prints.
"""

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Final

from voicelog.record.errors import CannotFollowError, RecordError
from voicelog.record.events import RECORD_EVENT, RecordEvent

FIRST_LINK: Final = "0" * 64


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the journal. `hash` is hexadecimal; `at` is UTC as "2025-11-25T08:15:30.123456Z"."""

    exam: str
    number: int
    at: str
    kind: str
    body: str
    hash: str


def row_of(exam: str, event: RecordEvent, previous: str) -> Row:
    """The row that keeps an event after the one with hash `previous`.

    Raises CannotFollowError for an event that would not read back as it is.
    """
    if event.at.tzinfo is None:
        raise CannotFollowError(f"event {event.number} has a time without a zone; UTC is needed")
    event = event.model_copy(update={"at": event.at.astimezone(UTC)})
    try:
        body = canonical(event.model_dump(mode="json"))
        same = canonical(event_of(body).model_dump(mode="json")) == body
    except ValueError as error:
        raise CannotFollowError(f"event {event.number} cannot be written down: {_line(error)}") from error
    if not same:
        raise CannotFollowError(f"event {event.number} does not read back as it was; it is not kept")
    at = utc_text(event.at)
    return Row(
        exam, event.number, at, event.kind, body, link(previous, exam, event.number, at, event.kind, body)
    )


def canonical(data: Any) -> str:
    """JSON with sorted keys, no spaces, ASCII only. Raises ValueError for numbers that JSON cannot hold."""
    return json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=True, allow_nan=False)


def event_of(body: str) -> RecordEvent:
    """The event of a row's body. Raises ValueError (pydantic's too) when it is none."""
    return RECORD_EVENT.validate_python(json.loads(body))


def events_of(rows: Iterable[Row]) -> Iterator[RecordEvent]:
    """The events of rows. Raises RecordError for one that cannot be read."""
    for row in rows:
        try:
            yield event_of(row.body)
        except ValueError as error:
            raise RecordError(
                f"event {row.number} of exam {row.exam} cannot be read; voicelog record verify says more"
            ) from error


def link(previous: str, exam: object, number: object, at: object, kind: object, body: object) -> str:
    """The hash of an event; takes whatever a damaged row may hold."""
    text = f"{previous}\n{exam}\n{number}\n{at}\n{kind}\n{body}"
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def utc_text(at: datetime) -> str:
    """A time in UTC with microseconds; texts sort as the times do."""
    return at.astimezone(UTC).replace(tzinfo=None).isoformat(timespec="microseconds") + "Z"


@dataclass(frozen=True, slots=True)
class Checked:
    """The events of one exam's rows, up to the first row that does not fit: its number, and why."""

    events: tuple[RecordEvent, ...]
    broken: tuple[object, str] | None


def checked(rows: Iterable[Row]) -> Checked:
    """One exam's rows, checked in order from its first."""
    previous = FIRST_LINK
    events: list[RecordEvent] = []
    for expected, row in enumerate(rows):
        if row.number != expected:
            why = f"event {expected} is missing: {row.number} follows"
            return Checked(tuple(events), (row.number, why))
        if row.hash != link(previous, row.exam, row.number, row.at, row.kind, row.body):
            why = "the row or the one before it was changed: the hash does not fit"
            return Checked(tuple(events), (row.number, why))
        # A row whose hash fits can still have been written wrongly.
        try:
            event = event_of(row.body)
        except ValueError as error:
            return Checked(tuple(events), (row.number, f"the event cannot be read: {_line(error)}"))
        if (event.number, event.kind, utc_text(event.at)) != (row.number, row.kind, row.at):
            why = "number, kind or time of the row are not those of its event"
            return Checked(tuple(events), (row.number, why))
        events.append(event)
        previous = row.hash
    return Checked(tuple(events), None)


def broken_at(rows: Iterable[Row]) -> tuple[object, str] | None:
    """The number of the first row of one exam that does not fit the chain and why; None when all fit."""
    return checked(rows).broken


def _line(error: ValueError) -> str:
    return " ".join(str(error).split())[:200]
