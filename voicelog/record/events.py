"""What can happen to an exam besides what is said in it: putting right afterwards, attesting, adding, expiring."""

from datetime import datetime
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from voicelog.exam.events import Event
from voicelog.optics import SpheroCylinder
from voicelog.phrases.meanings import Meaning, Model

Initials = Annotated[str, Field(min_length=1, max_length=20, pattern=r"\S")]
Reason = Annotated[str, Field(min_length=1, pattern=r"\S")]


class Amended(Model):
    """One entry is put right after it was said; `meaning` None takes it out. The entry itself stays in the record."""

    kind: Literal["amended"] = "amended"
    number: int
    at: datetime
    by: Initials
    reason: Reason
    entry: int
    text: str = ""
    meaning: Meaning | None = None


class Written(Model):
    """A refraction as written down; no cylinder means no axis."""

    sphere_d: float
    cylinder_d: float = 0.0
    axis_deg: Annotated[int, Field(ge=1, le=180)] | None = None

    def __str__(self) -> str:
        return str(SpheroCylinder(self.sphere_d, self.cylinder_d, self.axis_deg))


class Attested(Model):
    """Somebody vouches for the exam as it stands: the results they saw, and what was still open."""

    kind: Literal["attested"] = "attested"
    number: int
    at: datetime
    by: Initials
    right: Written | None = None
    left: Written | None = None
    unresolved: tuple[str, ...] = ()


class Addendum(Model):
    """Words added to an exam; they change no value."""

    kind: Literal["addendum"] = "addendum"
    number: int
    at: datetime
    by: Initials
    text: Reason


class ClipsExpired(Model):
    """The sound of these entries was kept for `days` days and is gone; hash, length and transcript stay."""

    kind: Literal["clips_expired"] = "clips_expired"
    number: int
    at: datetime
    days: int
    clips: tuple[str, ...]


RecordEvent = Annotated[
    Event | Amended | Attested | Addendum | ClipsExpired,
    Field(discriminator="kind"),
]

RECORD_EVENT: TypeAdapter[RecordEvent] = TypeAdapter(RecordEvent)
