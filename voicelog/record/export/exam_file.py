"""JSON: a whole exam in one file of our own form, versioned; what it holds is published as a JSON Schema.

The file carries every event with its hash, so that its chain can be checked without the database, and beside them
what the exam came to, worked out, for readers that do not want to do that. Files of older versions stay readable
(`old_exam_file`).
"""

import json
from datetime import datetime
from pathlib import Path
from typing import Any, Final, Literal

from pydantic import Field, ValidationError

from voicelog.phrases.meanings import Model, Naming
from voicelog.record.chain import Row, broken_at, canonical, event_of, utc_text
from voicelog.record.errors import RecordError, in_plain_words
from voicelog.record.events import RecordEvent
from voicelog.record.exams import ExamRecord, fold
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.exam_file_parts import (
    ComparisonInFile,
    EntryInFile,
    FurtherInFile,
    RefractionInFile,
    RemarkInFile,
    comparison_in_file,
    entry_in_file,
    further_in_file,
    refraction_in_file,
)
from voicelog.record.export.further import compared, further, remarked
from voicelog.record.export.kept import Kept
from voicelog.record.export.old_exam_file import OldExamFile
from voicelog.record.export.refractions import refractions

VERSION: Final = 3
SCHEMA_PATH: Final = Path(__file__).parent / f"exam_file_v{VERSION}.schema.json"


class EventInFile(Model):
    """One event with its hash (record.chain says what the hash covers)."""

    hash: str
    event: RecordEvent


class ExamFile(Model):
    """An exam of the record. All but `events` is worked out from them, and is not needed to read it."""

    format: Literal["voicelog-exam"] = "voicelog-exam"
    version: Literal[3] = 3
    exam: str
    reference: str
    started_at: datetime
    naming: Naming
    attested_by: str | None
    attested_at: datetime | None
    unresolved: tuple[str, ...]
    refractions: tuple[RefractionInFile, ...] = ()
    findings: tuple[FurtherInFile, ...] = ()
    entries: tuple[EntryInFile, ...] = ()
    comparisons: tuple[ComparisonInFile, ...] = ()
    remarks: tuple[RemarkInFile, ...] = ()
    cautions: tuple[str, ...] = ()
    events: tuple[EventInFile, ...] = Field(min_length=1)


def write(kept: Kept) -> bytes:
    """The file of an exam."""
    return written(kept.rows, kept.record).encode()


def exam_file(rows: tuple[Row, ...], record: ExamRecord | None = None) -> ExamFile:
    """The file of an exam from its rows. Raises CannotFollowError, ValueError when they make no exam."""
    events = [event_of(row.body) for row in rows]
    record = record or fold(events)
    attested = record.attested
    return ExamFile(
        exam=rows[0].exam,
        reference=record.started.reference,
        started_at=record.started.at,
        naming=record.started.naming,
        attested_by=None if attested is None else attested.by,
        attested_at=None if attested is None else attested.at,
        unresolved=record.unresolved,
        refractions=tuple(map(refraction_in_file, refractions(record))),
        findings=tuple(map(further_in_file, further(record))),
        entries=tuple(map(entry_in_file, record.state.ledger.rows.values())),
        comparisons=tuple(map(comparison_in_file, compared(record))),
        remarks=tuple(
            RemarkInFile(id=each.id, about=each.about, text=each.text, source=each.source)
            for each in remarked(record)
        ),
        cautions=CAUTIONS,
        events=tuple(
            EventInFile(hash=row.hash, event=event) for row, event in zip(rows, events, strict=True)
        ),
    )


def written(rows: tuple[Row, ...], record: ExamRecord | None = None) -> str:
    """The file of an exam as JSON, indented, in ASCII, ending in a line feed. Raises as `exam_file`."""
    data = exam_file(rows, record).model_dump(mode="json")
    # The events as they were hashed, not as today's models would write them.
    data["events"] = [{"hash": row.hash, "event": json.loads(row.body)} for row in rows]
    return json.dumps(data, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def read(path: Path) -> ExamFile | OldExamFile:
    """The exam in a file of any version so far.

    Raises RecordError when it is none, or when its chain does not fit.
    """
    return read_with_rows(path)[0]


def read_with_rows(path: Path) -> tuple[ExamFile | OldExamFile, tuple[Row, ...]]:
    """The exam in a file of any version so far, and its rows as the journal keeps them. Raises as `read`."""
    with in_plain_words(str(path)):
        content = path.read_bytes()
    try:
        data = json.loads(content)
        kind = ExamFile if isinstance(data, dict) and data.get("version") == VERSION else OldExamFile
        file = kind.model_validate(data)
        rows = tuple(_rows(data))
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"])
        raise RecordError(f"{path} is no exam of a version that is known: {place}: {first['msg']}") from None
    except (ValueError, RecursionError):
        raise RecordError(f"{path} is no JSON") from None
    broken = broken_at(rows)
    if broken is not None:
        raise RecordError(f"{path}: event {broken[0]}: {broken[1]}")
    return file, rows


def record_of(file: ExamFile | OldExamFile) -> ExamRecord:
    """The exam, folded from the file's events. Raises CannotFollowError."""
    return fold(each.event for each in file.events)


def schema() -> str:
    """The JSON Schema of what `written` makes, as it is kept beside this module."""
    return json.dumps(ExamFile.model_json_schema(mode="serialization"), indent=2, sort_keys=True) + "\n"


def _rows(data: dict[str, Any]) -> list[Row]:
    """The rows as they were hashed: from the JSON itself, so that later fields of the models do not matter."""
    rows = []
    for each in data["events"]:
        event = each["event"]
        at = utc_text(datetime.fromisoformat(event["at"]))
        body = canonical(event)
        rows.append(Row(data["exam"], event["number"], at, event["kind"], body, each["hash"]))
    return rows
