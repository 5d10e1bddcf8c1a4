"""Whom the loop of a live exam hands to and tells, and what it counts."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

from voicelog.exam.events import LeftOut, Line
from voicelog.exam.events import Source as Origin
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.utterance import Utterance


class Taking(Protocol):
    """What becomes of what was heard (`ExamTaker`, or a test's own). What raises has entered nothing."""

    def recognise(self, samples: Samples) -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz; enters nothing."""
        ...

    def take(self, hearing: Hearing, utterance: Utterance) -> Line:
        """Enter what was heard."""
        ...

    def take_line(self, line: str, source: Origin) -> Line:
        """Enter a line that was typed on the keyboard or on the page."""
        ...

    def missed(self, utterance: Utterance, why: LeftOut) -> Line:
        """Note an utterance that cannot be recognised."""
        ...

    def lost(self, utterance: Utterance | None, source: Origin) -> Line:
        """Note what was said or typed and was lost to a fault."""
        ...

    def refused(self, words: str) -> Line:
        """Note that the record refused what was entered last, for a while."""
        ...


@dataclass(frozen=True, slots=True)
class Told:
    """Whom the loop tells; called from its threads, so none may wait."""

    problem: Callable[[str], None] = lambda text: None
    """Something was not entered, and why."""
    held: Callable[[str], None] = lambda text: None
    """Something is not entered yet, and why; all that follows waits for it. Empty: it is entered now."""
    hold: Callable[[Callable[[], Line]], bool] = lambda enter: False
    """The record refuses what this enters: it is held where it outlives the program. False: it is not."""
    let_go: Callable[[], None] = lambda: None
    """The record takes entries again, and what was held need not be."""
    fault: Callable[[BaseException], None] = lambda fault: None
    """Something failed that should not; what it cost is told otherwise."""
    barge_in: Callable[[], None] = lambda: None
    """Somebody talks over the program's own speech."""
    finished: Callable[[], None] = lambda: None
    """The sound has ended and everything is entered."""


@dataclass(slots=True)
class Counts:
    """What the loop did so far."""

    utterances: int = 0
    drafts: int = 0
    """Drafts recognised."""
    drafts_used: int = 0
    """Drafts whose result stood."""
    own_speech: int = 0
    """Utterances that were the program's own voice."""
    over_speech: int = 0
    """Utterances that were said over the program's voice."""
    most_waiting: int = 0
    """The longest that the queue has been."""
    faults: int = 0
    """How often something failed that should not."""
