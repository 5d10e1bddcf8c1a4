"""Files of exams as versions 1 and 2 wrote them: read, with their events, and never written.

Version 1 had no further findings, comparisons and remarks. What a file says was worked out is what the program of then
made of the events; `exam_file.record_of` works them out anew.
"""

from datetime import datetime
from typing import Literal

from pydantic import Field

from voicelog.phrases.meanings import Eyes, Model, Naming
from voicelog.record.events import RecordEvent

_Eye = Literal["right", "left"]


class OldLens(Model):
    """A refraction; powers in dioptres, the axis in degrees."""

    sphere_d: float
    cylinder_d: float
    axis_deg: int | float | None
    spherical_equivalent_d: float


class OldReading(Model):
    """One reading as resolved; `entry` is the number of its event, the meridian is that of power."""

    entry: int
    meridian_deg: int
    motion: Literal["with", "against", "neutral"]
    gross_d: float
    allowance_d: float | None
    net_d: float | None
    working_distance_cm: float | None
    working_lens_in: bool


class OldFinding(Model):
    """What was found in one eye by one method."""

    eye: _Eye
    method: Literal["retinoscopy", "refined"]
    status: Literal["incomplete", "solved", "conflict"]
    written: OldLens | None
    exact: OldLens | None
    residual_d: float | None
    uncertainty: str | None
    technique: str | None
    readings: tuple[OldReading, ...]
    problems: tuple[str, ...]


class OldQuantity(Model):
    """A measured value of a further finding with its UCUM unit."""

    part: str
    value: float
    unit: Literal["[diop]", "deg", "mm", "cm", "%", "1"]


class OldFurther(Model):
    """A finding beside the refractions."""

    code: str
    about: Eyes | None
    name: str
    text: str
    quantities: tuple[OldQuantity, ...]


class OldComparison(Model):
    """Two refractions compared; the difference is a power vector in dioptres."""

    eye: _Eye | None
    first: str
    second: str
    m_d: float
    j0_d: float
    j45_d: float
    usual: bool | None
    questions: tuple[str, ...]
    text: str


class OldRemark(Model):
    """What usual practice was said to be, with its source."""

    id: str
    about: _Eye | None
    text: str
    source: str


class OldEventInFile(Model):
    """One event with its hash."""

    hash: str
    event: RecordEvent


class OldExamFile(Model):
    """An exam in a file of version 1 or 2; what a version did not have is empty."""

    format: Literal["voicelog-exam"] = "voicelog-exam"
    version: Literal[1, 2]
    exam: str
    reference: str
    started_at: datetime
    naming: Naming
    attested_by: str | None
    attested_at: datetime | None
    unresolved: tuple[str, ...]
    findings: tuple[OldFinding, ...]
    further: tuple[OldFurther, ...] = ()
    comparisons: tuple[OldComparison, ...] = ()
    remarks: tuple[OldRemark, ...] = ()
    events: tuple[OldEventInFile, ...] = Field(min_length=1)
