"""What waits to be entered."""

import time
from dataclasses import dataclass

from voicelog.exam.events import Source as Origin
from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.utterance import Span, Utterance


@dataclass(frozen=True, slots=True, eq=False)
class Drafted:
    """What was heard in a draft."""

    index: int
    span: Span
    size: int
    hearing: Hearing

    def is_of(self, utterance: Utterance) -> bool:
        """Whether the finished utterance is the same piece of sound."""
        same = (utterance.index, utterance.span, utterance.samples.size)
        return (self.index, self.span, self.size) == same


@dataclass(frozen=True, slots=True)
class Typed:
    """A line that was typed."""

    text: str
    source: Origin


@dataclass(frozen=True, slots=True)
class Said:
    """An utterance, and what the program said at the same time."""

    utterance: Utterance
    spoken: str


@dataclass(frozen=True, slots=True)
class Doubted:
    """Something that was said over the program's words, unless it is those."""

    utterance: Utterance
    spoken: str


@dataclass(frozen=True, slots=True)
class Lost:
    """Something was said and lost to a fault."""


@dataclass(frozen=True, slots=True)
class Draft:
    """What will have been said if nobody goes on."""

    utterance: Utterance


@dataclass(frozen=True, slots=True)
class Refused:
    """Since when the record refuses, and why."""

    since_s: float
    reason: str

    @property
    def words(self) -> str:
        """How long it was, and why."""
        held_s = time.monotonic() - self.since_s
        return f"refused by the record for {held_s:.0f} s: {self.reason}"


Finished = Said | Typed | Doubted | Lost
"""What is entered in its turn."""
