"""What can happen to an exam besides what is said in it: putting right afterwards, attesting, adding, expiring."""

from datetime import datetime
from typing import Annotated, Literal

from pydantic import Field, TypeAdapter

from voicelog.exam.entries import Dryness, Entry
from voicelog.exam.events import Event, Remove, Replace
from voicelog.optics import SpheroCylinder
from voicelog.phrases.meanings import Model
from voicelog.record.old_events import OldAmended, Said

Initials = Annotated[str, Field(min_length=1, max_length=20, pattern=r"\S")]
Reason = Annotated[str, Field(min_length=1, pattern=r"\S")]


Amendment = Annotated[Replace | Remove, Field(discriminator="op")]


class Amended(Model):
    """An entry is put right or taken out after it was said, with what follows; as it was it stays in the record.

    The first of `changes` is that entry; the others are entries in which its lens stayed, or that were taken from its
    distance or in its eye. `text` is the phrase that was typed, `words` what it came to. `takes_back` is the number
    of an amendment that is undone by this one; None: it undoes none.
    """

    kind: Literal["amendment"] = "amendment"
    number: int
    at: datetime
    by: Initials
    reason: Reason
    text: str = ""
    changes: Annotated[tuple[Amendment, ...], Field(min_length=1)]
    words: str = ""
    takes_back: int | None = None

    @property
    def entry(self) -> str:
        """The id of the entry that was named."""
        return self.changes[0].id

    @property
    def value(self) -> Entry | None:
        """What that entry is from now on; None: it is taken out."""
        first = self.changes[0]
        return None if isinstance(first, Remove) else first.entry

    @property
    def what(self) -> str:
        """What was done and by whom, in one line."""
        if self.takes_back is not None:
            return f"amendment {self.takes_back} of entry {self.entry} taken back by {self.by}"
        return f"entry {self.entry} amended by {self.by}: {self.text or 'taken out'}"


class Written(Model):
    """A refraction as written down; no cylinder means no axis."""

    sphere_d: float
    cylinder_d: float = 0.0
    axis_deg: Annotated[int, Field(ge=1, le=180)] | None = None

    def __str__(self) -> str:
        return str(SpheroCylinder(self.sphere_d, self.cylinder_d, self.axis_deg))


class Result(Model):
    """One refraction that was seen when an exam was attested: without drops, or under cycloplegia."""

    eye: Literal["right", "left"]
    condition: Dryness
    written: Written


class Attested(Model):
    """Somebody vouches for the exam as it stands: the results they saw, and what was still open.

    `right` and `left` are the results to go on with; `results` are all of them (empty in old journals).
    """

    kind: Literal["attested"] = "attested"
    number: int
    at: datetime
    by: Initials
    right: Written | None = None
    left: Written | None = None
    results: tuple[Result, ...] = ()
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
    Event | Amended | Attested | Addendum | ClipsExpired | Said | OldAmended,
    Field(discriminator="kind"),
]

RECORD_EVENT: TypeAdapter[RecordEvent] = TypeAdapter(RecordEvent)
