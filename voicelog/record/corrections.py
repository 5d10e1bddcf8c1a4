"""What became of each entry, and why: for the list on the screen and the printed page."""

from dataclasses import dataclass

from voicelog.exam.entries import Entry, ReadingEntry
from voicelog.exam.ledger import Row
from voicelog.record.exams import ExamRecord


@dataclass(frozen=True, slots=True)
class Fate:
    """One entry that no longer counts as it was entered.

    `id` is the entry's, `number` that of its event; `now` is what counts in its place, None when it was taken out;
    `reason` is the examiner's words, or those of the person `by` who amended it afterwards ("" for the examiner).
    """

    id: str
    number: int
    was: str
    now: str | None
    corrected_by: int
    reason: str
    by: str

    @property
    def sentence(self) -> str:
        """What happened, in one line, without the entry itself."""
        happened = "taken out" if self.now is None else f"now {self.now}"
        person = f" ({self.by})" if self.by else ""
        return f"{happened}; {self.corrected_by}{person}: {self.reason}"


def fates(record: ExamRecord) -> tuple[Fate, ...]:
    """Every corrected or withdrawn entry, in the order of the exam."""
    rows = record.state.ledger.rows.values()
    return tuple(
        _fate(record, row, row.changed_by)
        for row in rows
        if row.changed_by is not None and not _only_completed(row) and not _as_entered(row)
    )


def _as_entered(row: Row) -> bool:
    """Whether it is again what it was: what was done to it was taken back."""
    return not row.withdrawn and row.entry == row.original


def _only_completed(row: Row) -> bool:
    """Whether a reading only got the distance that was said after it: nothing of it was wrong."""
    was, now = row.original, row.entry
    if row.withdrawn or not isinstance(was, ReadingEntry) or not isinstance(now, ReadingEntry):
        return False
    completed = was.with_changes(allowance=now.allowance, distance_from=now.distance_from)
    return was.allowance.taken_off_d is None and completed == now


def _words(entry: Entry, other: Entry) -> str:
    """An entry in words; with its distance where that is all it differs from the other in."""
    words = entry.words()
    if isinstance(entry, ReadingEntry) and words == other.words():
        return f"{words}, {entry.allowance.words()}, {entry.mirror} mirror, {entry.condition}"
    return words


def _fate(record: ExamRecord, row: Row, changed_by: int) -> Fate:
    reason, by = _reason(record, changed_by)
    return Fate(
        id=row.id,
        number=row.number,
        was=row.original.words() if row.withdrawn else _words(row.original, row.entry),
        now=None if row.withdrawn else _words(row.entry, row.original),
        corrected_by=changed_by,
        reason=reason,
        by=by,
    )


def _reason(record: ExamRecord, number: int) -> tuple[str, str]:
    amendment = record.amendments.get(number)
    if amendment is not None:
        return amendment.reason, amendment.by
    line = record.lines.get(number)
    return ("" if line is None else line.text), ""
