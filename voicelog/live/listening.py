"""The loop of a live exam: sound is cut into utterances in one thread, recognised and taken in another.

Capture never waits for the recogniser; only when `WAITING_LIMIT` utterances are unrecognised does it leave sound in
the source, which keeps minutes of it. Recognition begins with the end-pointer's draft, in the pause that ends an
utterance; its result stands if the finished utterance is the same piece of sound. All entries, typed ones too, are
taken in one thread, in the order in which they came.
"""

import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Protocol

from voicelog.errors import VoicelogError
from voicelog.exam.events import Line
from voicelog.exam.events import Source as Origin
from voicelog.hearing.endpointing import Endpointer, EndpointingSettings
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.levels import FLOOR_DBFS, measure
from voicelog.hearing.sources import Block, Source
from voicelog.hearing.utterance import Span, Utterance
from voicelog.live.switch import Gated, Switch
from voicelog.speaking.gate import PlaybackGate

WAITING_LIMIT = 32
"""Utterances that may wait: at most 15 s each, so 31 MB."""

_DRAFT_AFTER_S = 0.16
"""So soon is it thought ahead: what the draft comes to is mostly known when the pause is over."""
_LIVE = EndpointingSettings(draft_silence_s=_DRAFT_AFTER_S, padding_after_s=_DRAFT_AFTER_S)


class Taking(Protocol):
    """What becomes of what was heard (`ExamTaker`, or a test's own)."""

    def recognise(self, samples: Samples) -> Hearing:
        """Hear one utterance, shape (n,), 16 kHz; enters nothing."""
        ...

    def take(self, hearing: Hearing, utterance: Utterance) -> Line:
        """Enter what was heard."""
        ...

    def take_line(self, line: str, source: Origin) -> Line:
        """Enter a line that was typed on the keyboard or on the page."""
        ...


@dataclass(frozen=True, slots=True)
class Told:
    """Whom the loop tells; called from its threads, so none may wait."""

    problem: Callable[[str], None] = lambda text: None
    """Something was not entered, and why."""
    barge_in: Callable[[], None] = lambda: None
    """Somebody talks over the program's own speech."""
    drowned: Callable[[], None] = lambda: None
    """Somebody talked over the program's own speech and nothing of it could be kept."""
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
    most_waiting: int = 0
    """The longest that the queue has been."""


@dataclass(frozen=True, slots=True, eq=False)
class _Drafted:
    index: int
    span: Span
    size: int
    hearing: Hearing

    def is_of(self, utterance: Utterance) -> bool:
        same = (utterance.index, utterance.span, utterance.samples.size)
        return (self.index, self.span, self.size) == same


@dataclass(frozen=True, slots=True)
class _Typed:
    text: str
    source: Origin


class Listening:
    """Runs a source through to entries. Make it, `start` it, `wait` for it; `close` ends it early.

    Nothing that was heard by then is lost: what is open is finished and what waits is entered first. `patience_s` says
    of what was heard in a draft how much silence ends it (None: as much as usual). `warm_up` is called before anything
    is recognised, while sound comes in already.
    """

    def __init__(
        self,
        source: Source,
        taking: Taking,
        *,
        gate: PlaybackGate | None = None,
        switch: Switch | None = None,
        endpointer: Endpointer | None = None,
        told: Told | None = None,
        patience_s: Callable[[Hearing], float | None] | None = None,
        warm_up: Callable[[], None] = lambda: None,
    ) -> None:
        self.counts = Counts()
        self.arrivals: dict[int, float] = {}
        """For each event by voice, `time.monotonic()` when the end of its last word had been captured."""
        self.level_dbfs = FLOOR_DBFS
        """Level of the last block."""
        self._source, self._taking = source, taking
        self._gate, self._told = gate, told or Told()
        self._patience_s, self._warm_up = patience_s, warm_up
        self._gated = Gated(switch) if switch is not None else None
        self._endpointer = endpointer or Endpointer(_LIVE)
        self._changed = threading.Condition()
        self._waiting: deque[Utterance | _Typed] = deque()
        self._draft: Utterance | None = None
        self._captured = False
        self._failure: BaseException | None = None
        self._barged_in = False
        self._capturer = threading.Thread(
            target=self._guarded, args=(self._capture,), name="capture", daemon=True
        )
        self._worker = threading.Thread(
            target=self._guarded, args=(self._work,), name="recognise", daemon=True
        )

    @property
    def in_speech(self) -> bool:
        """Whether somebody is speaking now."""
        return self._endpointer.in_speech

    def start(self) -> None:
        """Begin; returns at once."""
        self._capturer.start()
        self._worker.start()

    def type_line(self, line: str, source: Origin = "typed") -> None:
        """Enter a typed line after what was said before it; returns at once."""
        with self._changed:
            self._waiting.append(_Typed(line, source))
            self._changed.notify_all()

    def close(self) -> None:
        """Stop capturing soon; what was heard is still entered."""
        self._source.close()

    def wait(self, timeout_s: float | None = None) -> bool:
        """Until everything is entered; False if that takes longer. Raises what broke a thread."""
        self._worker.join(timeout_s)
        if self._worker.is_alive():
            return False
        if self._failure is not None:
            raise self._failure
        return True

    def _guarded(self, run: Callable[[], None]) -> None:
        try:
            run()
        except BaseException as error:  # handed to whoever waits
            self._failure = self._failure or error
            self._source.close()
        with self._changed:
            self._captured = True
            self._changed.notify_all()
        if threading.current_thread() is self._worker:
            self._told.finished()

    def _capture(self) -> None:
        for block in self._source.blocks():
            if self._gate is not None:
                self._gate.heard(block)
                self._watch_barge_in(self._gate)
            if block.samples.size:
                self.level_dbfs = measure(block.samples).rms_dbfs
            for part in self._gated.passed(block) if self._gated is not None else (block,):
                self._feed(part)
            if self._failure is not None:
                return
        self._add(self._endpointer.flush())

    def _feed(self, block: Block) -> None:
        finished = self._endpointer.feed(block)
        draft = self._endpointer.draft()
        if finished:
            self._add(finished)
        if draft is not None and not self._overlaps(draft):
            with self._changed:
                self._draft = draft
                self._changed.notify_all()

    def _watch_barge_in(self, gate: PlaybackGate) -> None:
        if gate.barged_in and not self._barged_in:
            self._barged_in = True
            self._told.barge_in()

    def _overlaps(self, utterance: Utterance) -> bool:
        return self._gate is not None and self._gate.judge(*utterance.span).overlaps

    def _add(self, finished: list[Utterance]) -> None:
        for utterance in finished:
            kept = self._without_own_speech(utterance)
            if kept is None:
                continue
            with self._changed:
                self._changed.wait_for(
                    lambda: len(self._waiting) < WAITING_LIMIT or self._failure is not None
                )
                self._waiting.append(kept)
                self.counts.most_waiting = max(self.counts.most_waiting, len(self._waiting))
                self._changed.notify_all()

    def _without_own_speech(self, utterance: Utterance) -> Utterance | None:
        if self._gate is None:
            return utterance
        verdict = self._gate.judge(*utterance.span)
        if not verdict.overlaps:
            return utterance
        kept = utterance.after(verdict.trusted_from)
        if kept is None:
            self.counts.own_speech += 1
            if self._barged_in:
                self._told.drowned()
        self._barged_in = False
        return kept

    def _work(self) -> None:
        self._warm_up()
        drafted: _Drafted | None = None
        while (job := self._next()) is not None:
            if isinstance(job, _Draft):
                drafted = self._recognise_draft(job.utterance)
            elif isinstance(job, _Typed):
                self._enter(partial(self._taking.take_line, job.text, job.source), job.text)
            else:
                self._take(job, drafted)

    def _next(self) -> "Utterance | _Typed | _Draft | None":
        """What to do next: what is finished before drafts; None when there will be nothing more."""
        with self._changed:
            self._changed.wait_for(lambda: self._waiting or self._draft is not None or self._captured)
            if self._waiting:
                job = self._waiting.popleft()
                if isinstance(job, Utterance) and self._draft is not None and self._draft.index <= job.index:
                    self._draft = None
                self._changed.notify_all()
                return job
            draft, self._draft = self._draft, None
            return None if draft is None else _Draft(draft)

    def _recognise_draft(self, draft: Utterance) -> _Drafted:
        self.counts.drafts += 1
        hearing = self._taking.recognise(draft.samples)
        silence_s = self._patience_s(hearing) if self._patience_s is not None else None
        if silence_s is not None:
            self._endpointer.wait(draft, silence_s)
        return _Drafted(draft.index, draft.span, draft.samples.size, hearing)

    def _take(self, utterance: Utterance, drafted: _Drafted | None) -> None:
        self.counts.utterances += 1
        if drafted is not None and drafted.is_of(utterance):
            self.counts.drafts_used += 1
            hearing = drafted.hearing
        else:
            hearing = self._taking.recognise(utterance.samples)
        said = self._enter(lambda: self._taking.take(hearing, utterance), hearing.free_text)
        if said is not None:
            self.arrivals[said.number] = utterance.end_arrived_s

    def _enter(self, enter: Callable[[], Line], what: str) -> Line | None:
        """Enter, and say it when that fails (a full disk): the exam goes on, the next entry may be kept again."""
        try:
            return enter()
        except (VoicelogError, OSError) as error:
            self._told.problem(f"NOT ENTERED: {what} ({error})")
            return None


@dataclass(frozen=True, slots=True)
class _Draft:
    utterance: Utterance
