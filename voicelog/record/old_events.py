"""Events of journals written before entries were complete. They are read and checked as they are, and never written.

`entry` and `meaning` are what was said, full of gaps; `translating` makes entries of them.
"""

from datetime import datetime
from typing import Annotated, Literal

from pydantic import Field

from voicelog.exam.events import Source
from voicelog.phrases.meanings import Meaning, Model
from voicelog.phrases.outcome import Outcome


class OldAlternative(Model):
    """Another meaning that the sound could have had."""

    text: str
    meaning: Meaning
    log_probability: float


class OldHeard(Model):
    """How an utterance was recognised."""

    engine: str
    score: float | None
    margin: float | None
    free_text: str = ""
    alternatives: tuple[OldAlternative, ...] = ()
    start_s: float | None = None
    end_s: float | None = None
    clip: str | None = None
    clip_s: float | None = None


class OldQuestion(Model):
    """What the log asked: `candidate` waited, `missing` would have settled it."""

    missing: Literal["confirm", "sign", "size", "axis", "eye", "where", "repeat"]
    text: str
    candidate: Meaning | None = None


class Said(Model):
    """One utterance or typed line. `entry` is what went into the log by it, `answers` the question that it settled."""

    kind: Literal["said"] = "said"
    number: int
    at: datetime
    source: Source
    text: str
    meaning: Meaning | None = None
    outcome: Outcome
    entry: Meaning | None = None
    answers: int | None = None
    question: OldQuestion | None = None
    reply: str = ""
    heard: OldHeard | None = None


class OldAmended(Model):
    """One entry put right afterwards; `meaning` None took it out."""

    kind: Literal["amended"] = "amended"
    number: int
    at: datetime
    by: Annotated[str, Field(min_length=1, max_length=20, pattern=r"\S")]
    reason: Annotated[str, Field(min_length=1, pattern=r"\S")]
    entry: int
    text: str = ""
    meaning: Meaning | None = None


OldEvent = Said | OldAmended
