"""Keeping what an exam is told: events go to the store first, then into the state, then to listeners."""

from collections.abc import Callable
from copy import copy
from datetime import datetime
from typing import Self

from voicelog.errors import VoicelogError
from voicelog.exam.breath import Reply
from voicelog.exam.entries import EarlierVisits, no_record
from voicelog.exam.events import Event, Heard, LeftOut, Line, Source, Started
from voicelog.exam.protocol import Reminders
from voicelog.exam.round import referred
from voicelog.exam.state import ExamState, after, with_line
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.phrases import meanings as say
from voicelog.record.clips import Clip
from voicelog.record.errors import NoSuchExamError
from voicelog.record.spoken import Spoken
from voicelog.record.storing import NotKeptError, Store, log_fault
from voicelog.settings import Settings


def reminders_of(settings: Settings) -> Reminders:
    """What the log says unasked, as set."""
    return Reminders(
        settings.remind_fogging, settings.remind_fellow_eye, settings.advise, settings.estimate_from
    )


def started(settings: Settings, reference: str, at: datetime) -> Started:
    """The event that begins an exam, as set."""
    return Started(
        at=at,
        reference=reference,
        naming=settings.naming,
        naming_said=settings.naming_chosen,
        distance_cm=settings.working_distance_cm,
        form=settings.cylinder_form,
        power_step_d=settings.power_step_d,
        axis_step_deg=settings.axis_step_deg,
        neutrality_sd_d=settings.neutrality_sd_d,
    )


class Keeping:
    """The state of an exam under way and the store that keeps it; nothing enters the state that the store refused.

    What a listener raises goes to `on_fault` and to nobody else: the event has happened. What others add to a kept exam
    is taken in before the next event, and told to `on_moved`.
    """

    state: ExamState

    def __init__(
        self,
        store: Store,
        now: Callable[[], datetime],
        on_fault: Callable[[Exception], None] = log_fault,
        on_moved: Callable[[], None] = lambda: None,
    ) -> None:
        self._store = store
        self._now = now
        self.on_fault, self.on_moved = on_fault, on_moved
        self.on_order: Callable[[str], None] | None = None
        """Told of each order to whoever runs the exam, once its line is kept; None: there is nobody who could obey."""
        self._listeners: list[Callable[[Event, ExamState], None]] = []

    def _start(self, start: Started) -> None:
        """Begin with the first event of an exam. Raises NotKeptError."""
        self._keep(start, None)
        self.state = after(None, start)

    def listen(self, listener: Callable[[Event, ExamState], None]) -> None:
        """Call `listener` after every event."""
        self._listeners.append(listener)

    @property
    def name(self) -> str:
        """The exam's name in the record; empty where it is not kept."""
        name = getattr(self._store, "exam", "")
        return name if isinstance(name, str) else ""

    @property
    def is_empty(self) -> bool:
        """Whether nothing was entered yet, so that nothing is kept."""
        return self._store.is_empty

    def twin(self) -> Self | None:
        """One that stands as this does and goes on without the record; what it is told is held in a file.

        Nobody is told of it. None where the store holds nothing. Raises what the store raises.
        """
        held = getattr(self._store, "held", None)
        if held is None:
            return None
        twin = copy(self)
        twin._store, twin._listeners, twin.on_order = held(), [], None
        return twin

    def earlier(self) -> EarlierVisits:
        """What earlier exams of this reference found, where the store knows of any."""
        look_up = getattr(self._store, "earlier", None)
        if look_up is None:
            return no_record()
        found = look_up(self.state.reference, self._now())
        return found if isinstance(found, EarlierVisits) else no_record()

    def let_go(self) -> None:
        """What a twin was told needs to be held no longer: the record takes entries again. Raises RecordError."""
        let_go = getattr(self._store, "let_go", None)
        if let_go is not None:
            let_go()

    def tell(self, words: str) -> Line:
        """Say what whoever runs the exam has to say of it; nothing is entered."""
        return self._append("voice", "", (), Reply("accepted", replies=(words,)))

    def _caught_up(self, take: Callable[[], Line]) -> Line:
        """Take; where others added to the exam meanwhile, once more to the exam as it then stands.

        What had been kept after all, though nobody could tell, is not taken twice.
        """
        try:
            return take()
        except NotKeptError as error:
            if not error.moved_on:
                raise
            kept = self._catch_up(error)
        return take() if kept is None else kept

    def _catch_up(self, error: NotKeptError) -> Line | None:
        """The line that was tried, where it was kept after all. Raises NotKeptError."""
        try:
            found = self._store.catch_up()
        except NoSuchExamError:  # the record was replaced by an older copy
            error.passing = False
            raise error from error.__cause__
        except Exception as refused:
            raise NotKeptError(refused) from refused
        if found is None:
            raise error
        self.state = found.state
        if found.others:
            self.on_moved()
        last, tried = self.state.events[-1], error.event
        if isinstance(last, Line) and isinstance(tried, Line) and last.number in found.own:
            same = (last.source, last.text, last.meanings) == (tried.source, tried.text, tried.meanings)
            if same:
                self._tell_of(last)
                return last
        return None

    def _append(
        self,
        source: Source,
        text: str,
        meanings: tuple[say.Meaning, ...],
        reply: Reply,
        heard: Heard | None = None,
        left_out: LeftOut = "",
    ) -> Line:
        line = Line(
            number=self._store.next_number,
            at=self._now(),
            source=source,
            text=text,
            meanings=meanings,
            outcome=reply.outcome,
            acts=reply.acts,
            answers=reply.answers,
            question=reply.question,
            dialogue=reply.dialogue,
            replies=reply.replies,
            heard=heard,
            left_out=left_out,
        )
        state = after(self.state, line) if reply.after is None else with_line(reply.after, line, self.state)
        if reply.reference is not None:
            state = referred(state, reply.reference)
            if isinstance(state.events[0], Started):
                self._store.begin_with(state.events[0])
        self._keep(line, state)
        self.state = state
        self._tell_of(line)
        orders = reply.orders if reply.reference is None else ("referred", *reply.orders)
        for order in orders:
            if self.on_order is not None:
                self.on_order(order)
        return line

    def _clip(self, sound: Spoken) -> Clip | None:
        """The sound, kept; where the disk takes none, only its length: the entry is worth more than its sound."""
        samples = sound.samples
        if samples is None:
            return None
        try:
            return self._store.keep_clip(samples)
        except (VoicelogError, OSError) as error:
            self.on_fault(error)
            return Clip(None, round(samples.size / SAMPLE_RATE_HZ, 3))

    def _tell_of(self, line: Line) -> None:
        for listener in self._listeners:
            try:
                listener(line, self.state)
            except Exception as fault:  # whatever it is, the line is entered and the others must be told
                self.on_fault(fault)

    def _keep(self, event: Event, state: ExamState | None) -> None:
        """Have the store keep an event. Raises NotKeptError."""
        try:
            self._store.append(event, state)
        except Exception as error:
            raise NotKeptError(error, event) from error
