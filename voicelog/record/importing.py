"""An exam taken from its JSON export: checked, shown, and only then put into the record, as it was exported.

The events keep their hashes, so that an export of the imported exam is the file again. Sound is in no export: `verify`
notes it as missing.
"""

from dataclasses import dataclass
from pathlib import Path

from voicelog.record.chain import Row
from voicelog.record.erasing import erasures
from voicelog.record.errors import AlreadyThereError, CannotFollowError, RecordError
from voicelog.record.exams import ExamRecord, fold
from voicelog.record.export import exam_file
from voicelog.record.export.exam_file import ExamFile
from voicelog.record.journal import Journal
from voicelog.record.names import is_name


@dataclass(frozen=True, slots=True)
class Incoming:
    """An exam in a file that is whole: its rows fit their hashes, and its events make an exam.

    `notes` say in words what this program works out otherwise than the file states.
    """

    exam: str
    rows: tuple[Row, ...]
    record: ExamRecord
    notes: tuple[str, ...] = ()


def incoming(path: Path) -> Incoming:
    """The exam in a JSON export of any version so far. Raises RecordError with what is wrong with the file."""
    file, rows = exam_file.read_with_rows(path)
    if not is_name(file.exam):
        raise RecordError(f"{path}: {file.exam[:40]!r} is no name of an exam")
    try:
        record = fold(each.event for each in file.events)
    except CannotFollowError as error:
        raise RecordError(f"{path}: the events make no exam: {error}") from None
    made = exam_file.exam_file(rows, record)
    for name in ("reference", "started_at", "naming", "attested_by", "attested_at"):
        if getattr(file, name) != getattr(made, name):
            raise RecordError(f"{path}: it states another {name.replace('_', ' ')} than its events")
    return Incoming(file.exam, rows, record, _otherwise(file, made))


def _otherwise(file: object, made: ExamFile) -> tuple[str, ...]:
    """What the file says was worked out and is otherwise now; files of older versions state it in other forms."""
    if not isinstance(file, ExamFile):
        return (
            f"the file is of an older version: its results are worked out anew ({len(made.refractions)})",
        )
    parts = ("unresolved", "refractions", "findings", "entries", "comparisons", "remarks")
    return tuple(
        f"this program works out other {name} than the file states"
        for name in parts
        if getattr(file, name) != getattr(made, name)
    )


def take(journal: Journal, found: Incoming) -> None:
    """Put the exam into the record, wholly or not at all.

    Raises AlreadyThereError when it holds an exam of that name, RecordError.
    """
    if journal.has(found.exam):
        same = journal.rows(found.exam) == found.rows
        raise AlreadyThereError(
            f"the record holds exam {found.exam} already, {'the same' if same else 'and it is another'}"
        )
    with journal.database.reading() as connection:
        erased = {each.exam for each in erasures(connection)}
    if found.exam in erased:
        raise AlreadyThereError(
            f"exam {found.exam} was erased from this record, and is not taken into it again"
        )
    journal.take(found.rows, found.record)
