"""What an exam's rows show without working it out: whether they are as they were written, and what the list must say.

Reading, hashing and a look at the outside of each event. Reading every event and working out what the entries come to
is for `--deep`: what a hash fits was written by this program, or by somebody whom the log's heads catch.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from voicelog.record.chain import FIRST_LINK, link
from voicelog.record.overviews import escaped, sought
from voicelog.record.scanning import Kept

_AFTER_ATTESTING: Final = ("addendum", "clips_expired")
# Within a text of the body every quotation mark has a backslash before it, so that this is never part of one.
_CLIP: Final = '"clip":"'
_CLIP_CHARACTERS: Final = 64


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


def outline(rows: Sequence[Kept]) -> Outline:
    """All rows of one exam, in order from its first."""
    found = Outline(listed={"attested_by": None, "attested_at": None})
    previous = FIRST_LINK
    for expected, (exam, number, at, kind, body, hash_, _, _) in enumerate(rows):
        if number != expected:
            found.broken = number, f"event {expected} is missing: {number} follows"
            return found
        if hash_ != link(previous, exam, number, at, kind, body):
            found.broken = number, "the row or the one before it was changed: the hash does not fit"
            return found
        try:
            # From the end, where they are nearest. Of the time its beginning: the event leaves out a fraction of zero.
            if (
                body.rfind(f'"number":{number}') < 0
                or body.rfind(f'"kind":"{kind}"') < 0
                or body.find(f'"at":"{at[:19]}') < 0
            ):
                found.broken = number, "number, kind or time of the row are not those of its event"
                return found
            _take(found, number, at, kind, body)
        except (ValueError, LookupError, TypeError, AttributeError) as error:
            found.broken = number, f"the event cannot be read: {' '.join(str(error).split())[:200]}"
            return found
        previous = hash_
    exam, number, at, _, _, hash_, _, _ = rows[-1]
    found.listed |= {"id": exam, "changed_at": at, "last_number": number, "last_hash": hash_}
    return found


def _take(found: Outline, number: int, at: str, kind: str, body: str) -> None:
    if (kind == "started") != (number == 0) or (
        found.listed["attested_at"] is not None and kind not in _AFTER_ATTESTING
    ):
        found.doubtful = True
    if kind == "started":
        reference = json.loads(body).get("reference", "")
        found.listed |= {"reference": escaped(reference), "sought": sought(reference), "started_at": at}
    elif kind == "attested":
        found.listed |= {"attested_by": escaped(json.loads(body)["by"]), "attested_at": at}
    elif kind == "clips_expired":
        for clip in json.loads(body)["clips"]:
            found.clips.pop(clip, None)
    else:
        _take_clips(found, number, body)


def _take_clips(found: Outline, number: int, body: str) -> None:
    """By plain searches: an expression takes three times as long."""
    start = body.find(_CLIP)
    while start >= 0:
        start += len(_CLIP)
        clip = body[start : body.find('"', start)]
        if len(clip) == _CLIP_CHARACTERS:
            found.clips[clip] = number
        start = body.find(_CLIP, start)
