"""Where the events of an exam go before they count: a store, whichever it is."""

import logging
from dataclasses import dataclass
from typing import Protocol

from voicelog.errors import VoicelogError
from voicelog.exam.events import Event, Line, Started
from voicelog.exam.state import ExamState
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.record.clips import Clip
from voicelog.record.errors import CannotFollowError, ExamMovedOnError

_LOG = logging.getLogger(__name__)


class Store(Protocol):
    """Where events go before they count."""

    def append(self, event: Event, state: ExamState | None = None) -> None:
        """Keep an event and the state that it leads to (None: it is yet to be worked out).

        When this raises, the event has not happened.
        """
        ...

    @property
    def next_number(self) -> int:
        """The number of the event that is appended next."""
        ...

    @property
    def is_empty(self) -> bool:
        """Whether nothing of the exam is kept yet, so that it may still begin otherwise."""
        ...

    def begin_with(self, started: Started) -> None:
        """Have an exam of which nothing is kept begin so."""
        ...

    def catch_up(self) -> "CaughtUp | None":
        """Take in what others added to the exam; None where nobody else can add."""
        ...

    def keep_clip(self, samples: Samples) -> Clip:
        """Keep the sound of an utterance, before the event that names it. When this raises, there is no clip."""
        ...


@dataclass(frozen=True, slots=True)
class CaughtUp:
    """An exam as it stands in the record; `own` are the events that were tried from here and were kept after all."""

    state: ExamState
    own: frozenset[int] = frozenset()
    others: bool = True
    """Whether others added to it."""


class Memory:
    """Keeps events for the length of the run only, and no sound."""

    def __init__(self) -> None:
        self.events: list[Event] = []

    def append(self, event: Event, state: ExamState | None = None) -> None:
        """Keep an event."""
        self.events.append(event)

    @property
    def next_number(self) -> int:
        """The number of the event that is appended next."""
        return len(self.events)

    @property
    def is_empty(self) -> bool:
        """Whether nothing was entered yet."""
        return not any(isinstance(each, Line) and each.acts for each in self.events)

    def begin_with(self, started: Started) -> None:
        """Have the exam begin so."""
        self.events[0] = started

    def catch_up(self) -> None:
        """Nobody else adds to it."""

    def keep_clip(self, samples: Samples) -> Clip:
        """Keep nothing but the length."""
        return Clip(None, round(samples.size / SAMPLE_RATE_HZ, 3))


class NotKeptError(VoicelogError):
    """The store refused an event, so that it has not happened.

    `passing`: the same may be kept later. `moved_on`: others added to the exam, which must be caught up with first.
    """

    def __init__(self, reason: Exception, event: Event | None = None) -> None:
        super().__init__(str(reason) or type(reason).__name__)
        self.event = event
        self.passing = not isinstance(reason, CannotFollowError)
        self.moved_on = isinstance(reason, ExamMovedOnError)


def log_fault(fault: Exception) -> None:
    """Write down a fault that cost nothing that was said."""
    _LOG.error("%s", fault, exc_info=fault)
