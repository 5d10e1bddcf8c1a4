"""JSON: a whole exam in one file of our own form, versioned; what it holds is published as a JSON Schema.

The file carries every event with its hash, so that its chain can be checked without the database, and beside them
what the exam came to, worked out, for readers that do not want to do that. Files of older versions stay readable
(`old_exam_file`).
"""

import json
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Any, Final, Literal

from pydantic import Field, ValidationError

from voicelog.exam.differences import Comparison
from voicelog.exam.entries import BaseEntry, BaseFinding, Dryness, Quantity, Unit
from voicelog.exam.ledger import Row as Entered
from voicelog.exam.ledger import RowState
from voicelog.exam.state import EyeName
from voicelog.optics import SpheroCylinder
from voicelog.phrases.meanings import Eyes, Model, Naming
from voicelog.record.chain import Row, broken_at, canonical, event_of, utc_text
from voicelog.record.errors import RecordError, in_plain_words
from voicelog.record.events import RecordEvent
from voicelog.record.exams import ExamRecord, fold
from voicelog.record.export.further import Further, code_of, compared, further, remarked
from voicelog.record.export.kept import Kept
from voicelog.record.export.old_exam_file import OldExamFile
from voicelog.record.export.refractions import Refraction, Status, refractions

VERSION: Final = 3
SCHEMA_PATH: Final = Path(__file__).parent / f"exam_file_v{VERSION}.schema.json"


class LensInFile(Model):
    """A refraction; powers in dioptres, the axis in degrees, 1 to 180, None without a cylinder."""

    sphere_d: float
    cylinder_d: float
    axis_deg: int | float | None
    spherical_equivalent_d: float


class RefractionInFile(Model):
    """What retinoscopy found in one eye, dry or wet; `written` is rounded for writing down, `exact` is not.

    `readings` are the ids of its entries, `standing` of those that the result is made from. `in_hand`: it is of the
    last pass, and what is gone on with.
    """

    eye: EyeName
    condition: Dryness
    in_hand: bool
    status: Status
    written: LensInFile | None
    exact: LensInFile | None
    residual_d: float | None
    uncertainty: str | None
    technique: str | None
    passes: int
    passes_furthest_d: float | None
    readings: tuple[str, ...]
    standing: tuple[str, ...]
    problems: tuple[str, ...]


class QuantityInFile(Model):
    """A measured value; `unit` is UCUM's, "1" for logMAR and counts."""

    part: str
    value: float
    unit: Unit


class EntryInFile(Model):
    """An entry of the ledger, complete, and what became of it; docs/record.md lists the codes.

    `about` None: it belongs to no eye. `entry` has every field of its kind, `words` the whole of it.
    """

    id: str
    state: RowState
    changed_by: int | None
    about: Eyes | None
    code: str
    words: str
    quantities: tuple[QuantityInFile, ...]
    entry: dict[str, Any]


class FurtherInFile(Model):
    """A finding beside the refractions. `entry` None: several entries make it; `about` None: the exam as a whole."""

    code: str
    about: Eyes | None
    name: str
    text: str
    quantities: tuple[QuantityInFile, ...]
    entry: str | None


class ComparisonInFile(Model):
    """Two refractions compared; the difference, first less second, is a power vector in dioptres."""

    eye: EyeName | None
    first: str
    second: str
    m_d: float
    j0_d: float
    j45_d: float
    usual: bool | None
    questions: tuple[str, ...]
    text: str


class RemarkInFile(Model):
    """What usual practice is, with its source; `about` None: both eyes."""

    id: str
    about: EyeName | None
    text: str
    source: str


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
        refractions=tuple(map(_refraction, refractions(record))),
        findings=tuple(map(_further, further(record))),
        entries=tuple(map(_entry, record.state.ledger.rows.values())),
        comparisons=tuple(map(_comparison, compared(record))),
        remarks=tuple(
            RemarkInFile(id=each.id, about=each.about, text=each.text, source=each.source)
            for each in remarked(record)
        ),
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


def _refraction(found: Refraction) -> RefractionInFile:
    return RefractionInFile(
        eye=found.eye,
        condition=found.condition,
        in_hand=found.in_hand,
        status=found.status,
        written=_lens(found.lens),
        exact=_lens(found.exact),
        residual_d=found.residual_d,
        uncertainty=found.uncertainty,
        technique=found.technique,
        passes=len(found.passes),
        passes_furthest_d=None if found.mean is None else found.mean.furthest_d,
        readings=tuple(each.id for each in found.readings),
        standing=tuple(each.id for each in found.neutral),
        problems=found.problems,
    )


def _entry(row: Entered) -> EntryInFile:
    entry: BaseEntry = row.entry
    return EntryInFile(
        id=row.id,
        state=row.state,
        changed_by=row.changed_by,
        about=entry.about,
        code=code_of(entry) if isinstance(entry, BaseFinding) else entry.export_code,
        words=entry.words(),
        quantities=_quantities(entry.quantities()),
        entry=entry.as_json(),
    )


def _further(found: Further) -> FurtherInFile:
    return FurtherInFile(
        code=found.code,
        about=found.about,
        name=found.name,
        text=found.text,
        quantities=_quantities(found.quantities),
        entry=found.entry,
    )


def _quantities(found: Iterable[Quantity]) -> tuple[QuantityInFile, ...]:
    return tuple(QuantityInFile(part=each.part, value=each.value, unit=each.unit) for each in found)


def _comparison(found: Comparison) -> ComparisonInFile:
    vector = found.apart.vector
    return ComparisonInFile(
        eye=found.eye,
        first=found.first_name,
        second=found.second_name,
        m_d=round(vector.m_d, 6),
        j0_d=round(vector.j0_d, 6),
        j45_d=round(vector.j45_d, 6),
        usual=found.usual,
        questions=tuple(each.text for each in found.questions),
        text=found.text,
    )


def _lens(lens: SpheroCylinder | None) -> LensInFile | None:
    if lens is None:
        return None
    axis = lens.axis_deg
    return LensInFile(
        sphere_d=lens.sphere_d,
        cylinder_d=lens.cylinder_d,
        axis_deg=int(axis) if axis is not None and axis == int(axis) else axis,
        spherical_equivalent_d=lens.spherical_equivalent_d,
    )
