"""The one row of an exam in lists, worked out from its events."""

import json
import unicodedata
from dataclasses import dataclass
from typing import Final

from voicelog.exam.entries import Dryness
from voicelog.exam.state import EyeState
from voicelog.optics import SpheroCylinder
from voicelog.record.chain import Row, utc_text
from voicelog.record.errors import CannotFollowError
from voicelog.record.exams import ExamRecord

WORKED_OUT: Final = ("unresolved", "right_status", "right_result", "left_status", "left_result")
"""Columns of the list that depend on how this program works an exam out."""
_LONGEST_SOUGHT: Final = 200  # characters of a reference that can be searched for


@dataclass(frozen=True, slots=True)
class Overview:
    """One exam in a list.

    `reference` and `attested_by` are ASCII with JSON's escapes, so that every text can be kept by every database;
    `sought` is what is searched. `right_result` and `left_result` are the refractions as written, empty when
    there is none; `unresolved` is 0 or 1.
    """

    id: str
    reference: str
    sought: str
    started_at: str
    changed_at: str
    unresolved: int
    right_status: str
    right_result: str
    left_status: str
    left_result: str
    attested_by: str | None
    attested_at: str | None
    last_number: int
    last_hash: str


def overview(record: ExamRecord, last: Row) -> Overview:
    """The row of an exam whose last event is kept as `last`."""
    eyes = record.eyes
    attested = record.attested
    return Overview(
        id=last.exam,
        reference=escaped(record.started.reference),
        sought=sought(record.started.reference),
        started_at=utc_text(record.started.at),
        changed_at=last.at,
        unresolved=int(bool(record.unresolved)),
        right_status=eyes["right"].status,
        right_result=_result(eyes["right"]),
        left_status=eyes["left"].status,
        left_result=_result(eyes["left"]),
        attested_by=None if attested is None else escaped(attested.by),
        attested_at=None if attested is None else utc_text(attested.at),
        last_number=last.number,
        last_hash=last.hash,
    )


def worked_out(record: ExamRecord, last: Row) -> Overview:
    """The row of an exam; proves that it can be worked out with this event in it. Raises CannotFollowError."""
    try:
        return overview(record, last)
    except (ValueError, LookupError, ArithmeticError) as error:
        raise CannotFollowError(f"event {last.number} makes no exam: {error}") from error


def escaped(text: str) -> str:
    """Text in ASCII: what is not printable ASCII, quotes and backslashes are written as in JSON."""
    return json.dumps(text, ensure_ascii=True)[1:-1]


def unescaped(text: str) -> str:
    """The text that `escaped` was given."""
    return str(json.loads(f'"{text}"'))


def sought(text: str) -> str:
    """The start of a text as it is searched: without case, differences of encoding, and characters unseen."""
    if text.isascii() and text.isprintable():  # nearly all are, and `verify` does this for each
        return text[:_LONGEST_SOUGHT].casefold()
    folded = unicodedata.normalize("NFKC", text[:_LONGEST_SOUGHT]).casefold()
    return "".join(each for each in folded if not unicodedata.category(each).startswith("C"))[
        :_LONGEST_SOUGHT
    ]


def _result(eye: EyeState) -> str:
    """The refraction; "+1.00 DS (dry); +4.00 DS (wet)" where drops come into it, for the two are never mixed."""
    found = {condition: _of_condition(eye, condition) for condition in eye.conditions}
    plain = set(eye.conditions) == {"dry"}
    return "; ".join(
        str(lens) if plain else f"{lens} ({condition})"
        for condition, lens in found.items()
        if lens is not None
    )


def _of_condition(eye: EyeState, condition: Dryness) -> SpheroCylinder | None:
    """The refraction dry or wet; a pass in hand that is not solved holds its own back."""
    if condition != eye.result_condition:
        return eye.result_of(condition)
    return eye.result if eye.status == "solved" else None
