"""JSON: a whole exam in one file of our own form, versioned; what it holds is published as a JSON Schema.

The file carries every event with its hash, so that its chain can be checked without the database, and beside them
what the exam found, worked out, for readers that do not want to do that. Files of older versions stay readable:
version 1 had no further findings, comparisons and remarks.
"""

import json
from datetime import datetime
from pathlib import Path
from typing import Any, Final, Literal

from pydantic import Field, ValidationError

from voicelog.exam.differences import Comparison
from voicelog.exam.state import EyeName, TakenReading
from voicelog.optics import SpheroCylinder
from voicelog.phrases.meanings import Model, Motion, Naming
from voicelog.record.chain import Row, broken_at, canonical, event_of, utc_text
from voicelog.record.errors import RecordError, in_plain_words
from voicelog.record.events import RecordEvent
from voicelog.record.exams import ExamRecord, fold
from voicelog.record.export.findings import Finding, findings
from voicelog.record.export.further import About, Further, Unit, compared, further, remarked

VERSION: Final = 2
SCHEMA_PATH: Final = Path(__file__).parent / f"exam_file_v{VERSION}.schema.json"


class LensInFile(Model):
    """A refraction; powers in dioptres, the axis in degrees, 1 to 180, None without a cylinder."""

    sphere_d: float
    cylinder_d: float
    axis_deg: int | float | None
    spherical_equivalent_d: float


class ReadingInFile(Model):
    """One reading as resolved; `entry` is the number of its event, the meridian is that of power."""

    entry: int
    meridian_deg: int
    motion: Motion
    gross_d: float
    allowance_d: float | None
    net_d: float | None
    working_distance_cm: float | None
    working_lens_in: bool


class FindingInFile(Model):
    """What was found in one eye by one method; `written` is rounded for writing down, `exact` is not."""

    eye: EyeName
    method: Literal["retinoscopy", "refined"]
    status: Literal["incomplete", "solved", "conflict"]
    written: LensInFile | None
    exact: LensInFile | None
    residual_d: float | None
    uncertainty: str | None
    technique: str | None
    readings: tuple[ReadingInFile, ...]
    problems: tuple[str, ...]


class QuantityInFile(Model):
    """A measured value of a further finding; `unit` is UCUM's, "1" for logMAR."""

    part: str
    value: float
    unit: Unit


class FurtherInFile(Model):
    """A finding beside the refractions; docs/record.md lists the codes. `about` None: the exam as a whole."""

    code: str
    about: About | None
    name: str
    text: str
    quantities: tuple[QuantityInFile, ...]


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
    """An exam of the record, in a file of any version; what a version did not have is empty."""

    format: Literal["voicelog-exam"] = "voicelog-exam"
    version: Literal[1, 2]
    exam: str
    reference: str
    started_at: datetime
    naming: Naming
    attested_by: str | None
    attested_at: datetime | None
    unresolved: tuple[str, ...]
    findings: tuple[FindingInFile, ...]
    further: tuple[FurtherInFile, ...] = ()
    comparisons: tuple[ComparisonInFile, ...] = ()
    remarks: tuple[RemarkInFile, ...] = ()
    events: tuple[EventInFile, ...] = Field(min_length=1)


class ExamFileNow(ExamFile):
    """An exam of the record, as it is written now."""

    version: Literal[2] = 2


def exam_file(rows: tuple[Row, ...]) -> ExamFileNow:
    """The file of an exam from its rows. Raises CannotFollowError, ValueError when they make no exam."""
    events = [event_of(row.body) for row in rows]
    record = fold(events)
    attested = record.attested
    return ExamFileNow(
        exam=rows[0].exam,
        reference=record.started.reference,
        started_at=record.started.at,
        naming=record.started.naming,
        attested_by=None if attested is None else attested.by,
        attested_at=None if attested is None else attested.at,
        unresolved=record.unresolved,
        findings=tuple(_finding(each) for each in findings(record)),
        further=tuple(_further(each) for each in further(record)),
        comparisons=tuple(_comparison(each) for each in compared(record)),
        remarks=tuple(
            RemarkInFile(id=each.id, about=each.about, text=each.text, source=each.source)
            for each in remarked(record)
        ),
        events=tuple(
            EventInFile(hash=row.hash, event=event) for row, event in zip(rows, events, strict=True)
        ),
    )


def written(rows: tuple[Row, ...]) -> str:
    """The file of an exam as JSON, indented, in ASCII, ending in a line feed. Raises as `exam_file`."""
    data = exam_file(rows).model_dump(mode="json")
    # The events as they were hashed, not as today's models would write them.
    data["events"] = [{"hash": row.hash, "event": json.loads(row.body)} for row in rows]
    return json.dumps(data, indent=2, ensure_ascii=True, allow_nan=False) + "\n"


def read(path: Path) -> ExamFile:
    """The exam in a file of any version so far.

    Raises RecordError when it is none, or when its chain does not fit.
    """
    with in_plain_words(str(path)):
        content = path.read_bytes()
    try:
        data = json.loads(content)
        file = ExamFile.model_validate(data)
    except ValidationError as error:
        first = error.errors()[0]
        place = ".".join(str(part) for part in first["loc"])
        raise RecordError(f"{path} is no exam of a version that is known: {place}: {first['msg']}") from None
    except ValueError:
        raise RecordError(f"{path} is no JSON") from None
    broken = broken_at(_rows(data))
    if broken is not None:
        raise RecordError(f"{path}: event {broken[0]}: {broken[1]}")
    return file


def record_of(file: ExamFile) -> ExamRecord:
    """The exam, folded from the file's events. Raises CannotFollowError."""
    return fold(each.event for each in file.events)


def schema() -> str:
    """The JSON Schema of what `written` makes, as it is kept beside this module."""
    return json.dumps(ExamFileNow.model_json_schema(mode="serialization"), indent=2, sort_keys=True) + "\n"


def _rows(data: dict[str, Any]) -> list[Row]:
    """The rows as they were hashed: from the JSON itself, so that later fields of the models do not matter."""
    rows = []
    for each in data["events"]:
        event = each["event"]
        at = utc_text(datetime.fromisoformat(event["at"]))
        body = canonical(event)
        rows.append(Row(data["exam"], event["number"], at, event["kind"], body, each["hash"]))
    return rows


def _finding(finding: Finding) -> FindingInFile:
    return FindingInFile(
        eye=finding.eye,
        method=finding.method,
        status=finding.status,
        written=_lens(finding.lens),
        exact=_lens(finding.exact),
        residual_d=finding.residual_d,
        uncertainty=finding.uncertainty,
        technique=finding.technique,
        readings=tuple(_reading(each) for each in finding.readings),
        problems=finding.problems,
    )


def _further(found: Further) -> FurtherInFile:
    return FurtherInFile(
        code=found.code,
        about=found.about,
        name=found.name,
        text=found.text,
        quantities=tuple(
            QuantityInFile(part=each.part, value=each.value, unit=each.unit) for each in found.quantities
        ),
    )


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


def _reading(reading: TakenReading) -> ReadingInFile:
    return ReadingInFile(
        entry=reading.number,
        meridian_deg=reading.meridian_deg,
        motion=reading.motion,
        gross_d=reading.gross_d,
        allowance_d=reading.allowance_d,
        net_d=reading.net_d,
        working_distance_cm=reading.distance_cm,
        working_lens_in=reading.lens_in,
    )
