"""A phrase that says an entry as it is now: what a form to amend it begins with."""

import re
from collections.abc import Iterator
from typing import Final

from voicelog.errors import VoicelogError
from voicelog.exam.entries import EyeEntry
from voicelog.exam.ledger import Row
from voicelog.phrases.grammar import LINE_RULE, Grammar
from voicelog.phrases.lines import TYPED, reader_of
from voicelog.record.amending import live_row, put_right
from voicelog.record.exams import ExamRecord

_IN_BRACKETS: Final = re.compile(r" ?\([^)]*\)")
_LENSES: Final = re.compile(r", (?=sphere|cylinder)")
_UNITS: Final = re.compile(r"(?<=\d) (?:cm|D)\b")


def phrase_of(record: ExamRecord, entry_id: str, grammar: Grammar) -> str:
    """Words that can be typed and leave the entry exactly as it is; empty where none are known.

    Every phrase is tried before it is given. Raises CannotFollowError for an entry that does not count.
    """
    row = live_row(record.state, entry_id)
    if isinstance(row.entry, EyeEntry):
        return row.entry.words()  # it changes nothing, and is refused as such
    return next((text for text in _candidates(record, row) if _says(record, row, text, grammar)), "")


def _candidates(record: ExamRecord, row: Row) -> Iterator[str]:
    """What was typed or said of it, newest first; then its own words, in the forms that are sayings."""
    for amendment in reversed(tuple(record.amendments.values())):
        if amendment.entry == row.id and amendment.text:
            yield amendment.text
    line = record.lines.get(row.number)
    if line is not None and len(line.entries) == 1:
        yield line.text
    words = row.entry.words()
    for named in (words.replace(":", ""), words.partition(": ")[2]):
        bare = _UNITS.sub("", _IN_BRACKETS.sub("", named))
        yield named
        yield bare
        yield _LENSES.sub(" with ", bare, count=1).replace(",", "")
        yield bare.replace(",", "")


def _says(record: ExamRecord, row: Row, text: str, grammar: Grammar) -> bool:
    if not text:
        return False
    try:
        readings = reader_of(grammar, LINE_RULE, *TYPED).understand(text).readings
        if len(readings) != 1 or len(readings[0]) != 1:
            return False
        act = put_right(record.state, row.id, readings[0][0])
    except VoicelogError:
        return False
    ledger = record.state.ledger.rows
    return all(getattr(change, "entry", None) == ledger[change.id].entry for change in act.changes)
