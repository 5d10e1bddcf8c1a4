"""What happened, in order: the only thing an exam is made of. Events are never changed, only added to."""

from datetime import datetime
from typing import Annotated, Literal

from pydantic import Field

from voicelog.phrases.meanings import Meaning, Model, Naming

Source = Literal["voice", "typed", "page"]
Outcome = Literal["accepted", "asked", "ignored"]


class Alternative(Model):
    """Another meaning that the sound could have had."""

    text: str
    meaning: Meaning
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
    """An exam begins. `reference` is the practice's own; no name is needed."""

    kind: Literal["started"] = "started"
    number: int = 0
    at: datetime
    reference: str = ""
    naming: Naming
    distance_cm: float | None = None
    form: Literal["minus", "plus"] = "minus"
    power_step_d: float = 0.25
    axis_step_deg: int = 1


class Said(Model):
    """One utterance or typed line, and what came of it.

    `meaning` is what was understood. `entry` is what went into the log by it: the same, or an earlier question's
    candidate that it settled (`answers` is that question's event number). `reply` is what was said back.
    """

    kind: Literal["said"] = "said"
    number: int
    at: datetime
    source: Source
    text: str
    meaning: Meaning | None = None
    outcome: Outcome
    entry: Meaning | None = None
    answers: int | None = None
    question: "Question | None" = None
    reply: str = ""
    heard: Heard | None = None


Missing = Literal["confirm", "sign", "size", "axis", "eye", "where", "repeat"]


class Question(Model):
    """What the log asks: `candidate` is the entry that waits, `missing` what would settle it."""

    missing: Missing
    text: str
    candidate: Meaning | None = None


Said.model_rebuild()

Event = Annotated[Started | Said, Field(discriminator="kind")]
