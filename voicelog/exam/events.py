"""What happened, in order: the only thing an exam is made of. Events are never changed, only added to.

A line holds what was said (`meanings`, full of gaps) and what came of it (`acts`, complete). The exam is folded from
the acts alone: what a correction changed was decided when it was said, and is never worked out anew.
"""

from datetime import datetime
from typing import Annotated, Literal

from pydantic import Field

from voicelog.exam.entries import Entry
from voicelog.exam.questions import Question
from voicelog.phrases.meanings import Meaning, Model, Naming
from voicelog.phrases.outcome import Outcome

Source = Literal["voice", "typed", "page"]
LeftOut = Literal["", "talk", "unclear", "over_speech", "paused", "failed", "refused"]
"""Why nothing came of a line: other talk; not clear; said under the program's own voice; said while the log did not
listen; lost to a fault of the program; or the record refused for a while what was entered just before."""


class Alternative(Model):
    """Other meanings that the sound could have had."""

    text: str
    meanings: tuple[Meaning, ...]
    log_probability: float


class Heard(Model):
    """How an utterance was recognised: for the ledger, the review and the calibration."""

    engine: str
    score: float | None
    margin: float | None
    free_text: str = ""
    alternatives: tuple[Alternative, ...] = ()
    start_s: float | None = None
    end_s: float | None = None
    clip: str | None = None
    """SHA-256 of the kept sound, hexadecimal."""
    clip_s: float | None = None
    """Length of the sound in seconds, kept or not."""


class Started(Model):
    """An exam begins. `reference` is the practice's own; no name is needed.

    `naming` is the habit that bare directions are taken by; `naming_said` False: nobody chose it, so that the first
    bare direction is asked about. `neutrality_sd_d` is the examiner's own (dioptres); None: the published one.
    """

    kind: Literal["started"] = "started"
    number: int = 0
    at: datetime
    reference: str = ""
    naming: Naming
    naming_said: bool = True
    distance_cm: float | None = None
    form: Literal["minus", "plus"] = "minus"
    power_step_d: float = 0.25
    axis_step_deg: int = 1
    neutrality_sd_d: float | None = None


class Put(Model):
    """A new entry. Its id is the number of its event; further entries of one breath have ".2" and so on behind it."""

    op: Literal["put"] = "put"
    id: str
    entry: Entry


class Replace(Model):
    """An entry is to be this, from the start; one that was withdrawn counts again."""

    op: Literal["replace"] = "replace"
    id: str
    entry: Entry


class Remove(Model):
    """An entry no longer counts."""

    op: Literal["remove"] = "remove"
    id: str


Change = Annotated[Put | Replace | Remove, Field(discriminator="op")]


class Act(Model):
    """One thing done to the ledger, the unit of taking back. "undo" and "redo" say what their changes are for."""

    does: Literal["do", "undo", "redo"] = "do"
    changes: tuple[Change, ...]
    words: str = ""
    """What was said back of it."""


class OpenQuestion(Model):
    """A question with the number of the event that asked it, and how many acts of that event came before it.

    `said` is where its entry was said: there too, unless another question about it came first.
    """

    number: int
    acts: int = 0
    question: Question
    said: tuple[int, int] | None = None

    @property
    def said_at(self) -> tuple[int, int]:
        """Number of the event in which the entry was said, and of its acts before it."""
        return (self.number, self.acts) if self.said is None else self.said


class Dialogue(Model):
    """Where the exchange stands, apart from the entries.

    questions  open, the one in hand last
    waiting    what was said behind a question that it depends on, in order
    dropped    the last entry that was said did not go in, so that a bare correction may mean it
    ended      "finish": nothing more is entered
    eye_unclear  what named another eye than the one in hand was not understood; what names none is asked about
    lens_unclear  what named a lens was not understood; what looks through the lenses in place is asked about
    distance_unclear  what named a distance was not understood; what is read from the one before is asked about
    """

    questions: tuple[OpenQuestion, ...] = ()
    waiting: tuple[Meaning, ...] = ()
    listening: bool = True
    dropped: bool = False
    ended: bool = False
    eye_unclear: bool = False
    lens_unclear: bool = False
    distance_unclear: bool = False


class Added(Model):
    """A line that was added after the exam: who heard or saw it then, who adds it now (initials), and why."""

    heard_by: str
    by: str
    reason: str

    @property
    def words(self) -> str:
        """Both persons and the reason, in one line."""
        return f"heard by {self.heard_by}, added afterwards by {self.by}: {self.reason}"


class Line(Model):
    """One utterance or typed line, and what came of it.

    `question` is what it made the log ask; `answers` the number of the event whose question it settled; `replies` what
    was said back, one for each thing said; `dialogue` where the exchange then stands, None: as before; `left_out` why
    nothing came of it (empty in old journals).
    """

    kind: Literal["line"] = "line"
    number: int
    at: datetime
    source: Source
    text: str
    meanings: tuple[Meaning, ...] = ()
    outcome: Outcome
    acts: tuple[Act, ...] = ()
    answers: int | None = None
    question: Question | None = None
    dialogue: Dialogue | None = None
    replies: tuple[str, ...] = ()
    heard: Heard | None = None
    added: Added | None = None
    left_out: LeftOut = ""

    @property
    def reply(self) -> str:
        """Everything that was said back, in one line."""
        return "; ".join(self.replies)

    @property
    def entries(self) -> tuple[Entry, ...]:
        """What went into the ledger by it, new or put right."""
        return tuple(
            change.entry for act in self.acts for change in act.changes if not isinstance(change, Remove)
        )


Event = Annotated[Started | Line, Field(discriminator="kind")]


def event_number(entry_id: str) -> int:
    """The number of the event that an entry came with."""
    return int(entry_id.partition(".")[0])
