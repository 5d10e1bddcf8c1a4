"""What was said and typed is recognised and entered here: in one thread, in the order in which it came.

A fault costs one utterance at most, and has its row; it is tried twice. What the record refuses is held, and tried
again every second; everything behind it waits, so that no value goes to an eye that was left.
"""

import threading
import time
from collections import deque
from collections.abc import Callable
from functools import partial

from voicelog.exam.events import Line
from voicelog.exam.events import Source as Origin
from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.utterance import Utterance
from voicelog.live.garbage import wait_for
from voicelog.live.jobs import Doubted, Draft, Drafted, Finished, Lost, Refused, Said, Typed
from voicelog.live.told import Counts, Taking, Told
from voicelog.record.storing import NotKeptError
from voicelog.speaking.echoes import repeats, said_over

WAITING_LIMIT = 32
"""Utterances that may wait: at most 15 s each, so 31 MB."""

_TRY_AGAIN_S = 1.0
_AFTER_THE_END_S = 8.0  # beyond the 4.5 s that the record itself waits for another process
_TRIES = 2


class Entering:
    """A queue and the thread that empties it. `drafted` is told what was heard in each draft."""

    def __init__(
        self, taking: Taking, told: Told, counts: Counts, drafted: Callable[[Utterance, Hearing], None]
    ) -> None:
        self.arrivals: dict[int, float] = {}
        """For each event by voice, `time.monotonic()` when the end of its last word had been captured."""
        self._taking, self._told, self._counts, self._on_draft = taking, told, counts, drafted
        self._changed = threading.Condition()
        self._waiting: deque[Finished] = deque()
        self._draft: Utterance | None = None
        self._busy = self._drafting = True
        self._ended_s: float | None = None
        self._last_draft: Drafted | None = None
        self._unsettled = False  # something was lost, and not even that could be noted yet
        self._given_up = self._forgets = False
        self._reason = ""  # of the record, for what it refused last
        # Of what waits behind what was refused: whether it would outlive the program.
        self._held: deque[bool] = deque()
        self._is_held, self._refusal = False, ""

    @property
    def busy(self) -> bool:
        """Whether something that was said or typed is not entered yet."""
        with self._changed:
            return self._busy or bool(self._waiting)

    @property
    def idle(self) -> bool:
        """Whether there is nothing to do, drafts included."""
        with self._changed:
            return not (self._busy or self._drafting or self._waiting or self._draft is not None)

    def type_line(self, line: str, source: Origin) -> None:
        """Enter a typed line after what was said before it; returns at once."""
        self._put(Typed(line, source))

    def put(self, utterance: Utterance, spoken: str = "") -> None:
        """Recognise and enter; waits while as many wait as may. `spoken`: what the program said at the same time."""
        with self._changed:
            self._changed.wait_for(lambda: len(self._waiting) < WAITING_LIMIT)
        self._put(Said(utterance, spoken))

    def doubt(self, utterance: Utterance, spoken: str) -> None:
        """Note, in its turn, that something was said over the program's words, unless it is those words."""
        self._put(Doubted(utterance, spoken))

    def lose(self) -> None:
        """Note, in its turn, that what was being said was lost to a fault."""
        self._put(Lost())

    def offer(self, draft: Utterance) -> None:
        """Recognise this when there is nothing else to do; the latest counts."""
        with self._changed:
            self._draft = draft
            self._changed.notify_all()

    def forget(self) -> None:
        """What is entered next is of another exam, whose events are counted anew."""
        self._forgets = True

    def end(self) -> None:
        """Nothing more will come."""
        with self._changed:
            self._ended_s = self._ended_s or time.monotonic()
            self._changed.notify_all()

    def run(self, warm_up: Callable[[], None]) -> None:
        """Until everything is entered after the `end`."""
        self._attempt(warm_up)
        self._done()
        while (job := self._next()) is not None:
            self._attempt(lambda job=job: self._do(job))  # type: ignore[misc]
            self._done()

    def _done(self) -> None:
        with self._changed:
            self._busy = self._drafting = False

    def _attempt(self, do: Callable[[], object]) -> None:
        """Whatever it raises, the thread goes on."""
        try:
            do()
        except Exception as fault:
            self._failed(fault)

    def _failed(self, fault: BaseException) -> None:
        self._counts.faults += 1
        self._told.fault(fault)

    def _put(self, job: Finished) -> None:
        with self._changed:
            self._waiting.append(job)
            self._counts.most_waiting = max(self._counts.most_waiting, len(self._waiting))
            self._changed.notify_all()

    def _next(self) -> "Finished | Draft | None":
        """What to do next: what is finished before drafts; None when there will be nothing more."""
        with self._changed:
            wait_for(self._changed, lambda: self._waiting or self._draft or self._ended_s is not None)
            if self._waiting:
                job = self._waiting.popleft()
                draft = self._draft
                if isinstance(job, Said) and draft is not None and draft.index <= job.utterance.index:
                    self._draft = None
                self._busy = True
                self._changed.notify_all()
                return job
            draft, self._draft = self._draft, None
            self._drafting = draft is not None
            return None if draft is None else Draft(draft)

    def _do(self, job: "Finished | Draft") -> None:
        if self._forgets:
            self._forgets = False
            self.arrivals.clear()
        if not isinstance(job, Draft):
            self._is_held = self._held.popleft() if self._held else False
        match job:
            case Draft(utterance=draft):
                self._recognise_draft(draft)
            case Typed(text=text, source=source):
                self._enter(lambda: self._taking.take_line(text, source), text, None, source)
            case Doubted(utterance=utterance, spoken=spoken):
                self._doubt(utterance, spoken)
            case Lost():
                self._enter(lambda: self._taking.lost(None, "voice"), "", None, "voice")
            case Said(utterance=utterance, spoken=spoken):
                self._take(utterance, spoken)

    def _recognise_draft(self, draft: Utterance) -> None:
        self._counts.drafts += 1
        hearing = self._taking.recognise(draft.samples)
        self._last_draft = Drafted(draft.index, draft.span, draft.samples.size, hearing)
        self._on_draft(draft, hearing)

    def _doubt(self, utterance: Utterance, spoken: str) -> None:
        if repeats(_words(self._taking.recognise(utterance.samples)), spoken):
            self._counts.own_speech += 1
            return
        self._enter(lambda: self._taking.missed(utterance, "over_speech"), "", utterance, "voice")

    def _take(self, utterance: Utterance, spoken: str) -> None:
        self._counts.utterances += 1
        drafted = self._last_draft
        hearing: Hearing | None = None
        if drafted is not None and drafted.is_of(utterance):
            self._counts.drafts_used += 1
            hearing = drafted.hearing

        def take() -> Line:
            nonlocal hearing
            if hearing is None:
                hearing = self._taking.recognise(utterance.samples)
            return self._take_heard(hearing, utterance, spoken)

        def words() -> str:
            return "an utterance" if hearing is None or not hearing.hypotheses else _words(hearing)

        said = self._enter(take, words, utterance, "voice")
        if said is not None:
            self.arrivals[said.number] = utterance.end_arrived_s

    def _take_heard(self, hearing: Hearing, utterance: Utterance, spoken: str) -> Line:
        kept = said_over(utterance, _words(hearing), spoken) if spoken else utterance
        if kept is None:
            return self._taking.missed(utterance, "over_speech")
        return self._taking.take(hearing, kept)

    def _enter(
        self,
        enter: Callable[[], Line],
        what: str | Callable[[], str],
        utterance: Utterance | None,
        source: Origin,
    ) -> Line | None:
        """Enter; what the record refuses is held, what fails is tried once more and then noted as lost."""

        def words() -> str:
            return what if isinstance(what, str) else what()

        def note_loss() -> Line:
            return self._taking.lost(utterance, source)

        if self._given_up:
            self._not_entered(words())
            return None
        if self._unsettled:
            self._unsettled = self._kept(note_loss, lambda: "what was lost") is None
        said = self._kept(enter, words)
        if said is None and (self._given_up or self._kept(note_loss, words) is None):
            self._unsettled = True
            self._not_entered(words())
        return said

    def _not_entered(self, words: str) -> None:
        why = f" ({self._reason})" if self._reason else ""
        later = "; it is held on this machine and goes in at the next start" if self._is_held else ""
        self._told.problem(f"NOT ENTERED: {words}{why}{later}")

    def _kept(self, enter: Callable[[], Line], words: Callable[[], str]) -> Line | None:
        """The line that was entered, however long the record refused it; None where it cannot be."""
        refused: Refused | None = None
        faults, line = 0, None
        while line is None and faults < _TRIES:
            try:
                line = enter()
            except NotKeptError as error:
                self._reason = str(error)
                if not error.passing:
                    self._failed(error)
                    break
                if refused is None:
                    refused = Refused(time.monotonic(), str(error))
                    self._told.held(f"{words()} ({refused.reason})")
                    self._is_held = self._is_held or self._told.hold(enter)
                self._hold_what_waits()
                if not self._may_try_again():
                    # Nothing behind it may go in without it, should the record take entries once more.
                    self._given_up = True
                    break
            except Exception as fault:
                faults += 1
                self._reason = ""
                self._failed(fault)
        if refused is not None:
            self._told.held("")
            self._refusal = self._refusal or refused.words
        if self._refusal and not self._given_up and not any(self._held):
            # Not before all that was held is in, or a kill takes the rest.
            told, self._refusal = self._refusal, ""
            self._held.clear()
            self._attempt(self._told.let_go)
            if line is not None and not self._forgets:
                self._attempt(lambda: self._taking.refused(told))
        return line

    def _hold_what_waits(self) -> None:
        """What came since, behind what the record refuses."""
        with self._changed:
            fresh = list(self._waiting)[len(self._held) :]
        for job in fresh:
            self._held.append(self._told.hold(partial(self._enter_held, job)))

    def _enter_held(self, job: Finished) -> Line:
        match job:
            case Typed(text=text, source=source):
                return self._taking.take_line(text, source)
            case Said(utterance=utterance, spoken=spoken):
                return self._take_heard(self._taking.recognise(utterance.samples), utterance, spoken)
            case Doubted(utterance=utterance):
                return self._taking.missed(utterance, "over_speech")
            case Lost():
                return self._taking.lost(None, "voice")

    def _may_try_again(self) -> bool:
        """Wait a little; False when the exam ended some time ago."""
        if self._ended_s is None:
            with self._changed:
                self._changed.wait_for(lambda: self._ended_s is not None, _TRY_AGAIN_S)
            return True
        time.sleep(_TRY_AGAIN_S)
        return time.monotonic() - self._ended_s < _AFTER_THE_END_S


def _words(hearing: Hearing) -> str:
    return hearing.hypotheses[0].text if hearing.hypotheses else hearing.free_text
