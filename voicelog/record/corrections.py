"""What became of each entry, and why: for the list on the screen and the printed page."""

from dataclasses import dataclass

from voicelog.exam import wording
from voicelog.exam.events import Said
from voicelog.exam.ledger import Line
from voicelog.record.exams import ExamRecord


@dataclass(frozen=True, slots=True)
class Fate:
    """One entry that no longer counts as it was entered.

    `now` is what counts in its place, None when it was taken out; `reason` is the examiner's words, or those of the
    person `by` who amended it afterwards ("" for the examiner).
    """

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
    lines = record.state.ledger.lines
    return tuple(_fate(record, line) for line in lines if line.corrected_by is not None)


def _fate(record: ExamRecord, line: Line) -> Fate:
    number = -1 if line.corrected_by is None else line.corrected_by
    reason, by = _reason(record, number)
    return Fate(
        number=line.number,
        was=wording.meaning(line.original),
        now=None if line.state == "withdrawn" else wording.meaning(line.meaning),
        corrected_by=number,
        reason=reason,
        by=by,
    )


def _reason(record: ExamRecord, number: int) -> tuple[str, str]:
    amendment = record.amendments.get(number)
    if amendment is not None:
        return amendment.reason, amendment.by
    event = record.events[number]
    return (event.text if isinstance(event, Said) else ""), ""
