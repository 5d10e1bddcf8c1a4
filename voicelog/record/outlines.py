"""What an exam's rows show without working it out: whether they are as they were written, and what the list must say.

Reading, hashing and a look at the outside of each event. Reading every event and working out what the entries come to
is for `--deep`: what a hash fits was written by this program, or by somebody whom the log's heads catch.
"""

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from voicelog.record.chain import FIRST_LINK, Row, link
from voicelog.record.overviews import escaped, sought

_AFTER_ATTESTING: Final = ("addendum", "clips_expired")
# Within a text of the body every quotation mark has a backslash before it, so that this is never part of one.
_CLIP: Final = re.compile(r'"clip":"([0-9a-f]{64})"')


@dataclass(slots=True)
class Outline:
    """An exam from outside.

    broken    number of the first row that does not fit, and why
    doubtful  the kinds of its events cannot follow each other so: it has to be worked out to say why
    listed    what its row in the list must hold, results and open points apart
    clips     the sound that is named and has not expired, with the number of its event
    """

    broken: tuple[object, str] | None = None
    doubtful: bool = False
    listed: dict[str, Any] = field(default_factory=dict)
    clips: dict[str, int] = field(default_factory=dict)


def outline(rows: Sequence[Row]) -> Outline:
    """All rows of one exam, in order from its first."""
    found = Outline(listed={"attested_by": None, "attested_at": None})
    previous = FIRST_LINK
    for expected, row in enumerate(rows):
        why = _misfit(row, expected, previous)
        if why is not None:
            found.broken = row.number, why
            return found
        try:
            _take(found, row)
        except (ValueError, LookupError, TypeError, AttributeError) as error:
            found.broken = row.number, f"the event cannot be read: {' '.join(str(error).split())[:200]}"
            return found
        previous = row.hash
    last = rows[-1]
    found.listed |= {
        "id": last.exam,
        "changed_at": last.at,
        "last_number": last.number,
        "last_hash": last.hash,
    }
    return found


def _misfit(row: Row, expected: int, previous: str) -> str | None:
    if row.number != expected:
        return f"event {expected} is missing: {row.number} follows"
    if row.hash != link(previous, row.exam, row.number, row.at, row.kind, row.body):
        return "the row or the one before it was changed: the hash does not fit"
    body = row.body
    # The beginning of the time alone: the event leaves out a fraction of zero.
    kind, at = f'"kind":"{row.kind}"', f'"at":"{row.at[:19]}'
    if f'"number":{row.number}' not in body or kind not in body or at not in body:
        return "number, kind or time of the row are not those of its event"
    return None


def _take(found: Outline, row: Row) -> None:
    found.doubtful |= (row.kind == "started") != (row.number == 0)
    if found.listed["attested_at"] is not None:
        found.doubtful |= row.kind not in _AFTER_ATTESTING
    match row.kind:
        case "started":
            reference = json.loads(row.body).get("reference", "")
            found.listed |= {
                "reference": escaped(reference),
                "sought": sought(reference),
                "started_at": row.at,
            }
        case "attested":
            found.listed |= {"attested_by": escaped(json.loads(row.body)["by"]), "attested_at": row.at}
        case "clips_expired":
            for clip in json.loads(row.body)["clips"]:
                found.clips.pop(clip, None)
        case _:
            for clip in _CLIP.findall(row.body):
                found.clips[clip] = row.number
