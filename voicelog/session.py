"""One exam under way: joins hearing, phrases and the exam. The command line, the page and the tests drive this."""

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Protocol

from voicelog.exam.events import Alternative, Event, Heard, Said, Source, Started
from voicelog.exam.exchange import Reply, respond
from voicelog.exam.protocol import Reminders
from voicelog.exam.state import ExamState, after
from voicelog.exam.unlikely import Evidence
from voicelog.hearing.decision import decide
from voicelog.hearing.engines.protocol import Engine, Hearing
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.hearing.utterance import Utterance
from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import ENTRY_RULE, Grammar, load_named
from voicelog.phrases.lines import LineReader, NotAPhraseError
from voicelog.phrases.plain_words import in_plain_words
from voicelog.record.clips import Clip
from voicelog.settings import Settings

_KEPT_ALTERNATIVES = 3


class Store(Protocol):
    """Where events go before they count."""

    def append(self, event: Event) -> None:
        """Keep an event. When this raises, the event has not happened."""
        ...

    @property
    def next_number(self) -> int:
        """The number of the event that is appended next."""
        ...

    def keep_clip(self, samples: Samples) -> Clip:
        """Keep the sound of an utterance, before the event that names it. When this raises, there is no clip."""
        ...


class Memory:
    """Keeps events for the length of the run only, and no sound."""

    def __init__(self) -> None:
        self.events: list[Event] = []

    def append(self, event: Event) -> None:
        """Keep an event."""
        self.events.append(event)

    @property
    def next_number(self) -> int:
        """The number of the event that is appended next."""
        return len(self.events)

    def keep_clip(self, samples: Samples) -> Clip:
        """Keep nothing but the length."""
        return Clip(None, round(samples.size / SAMPLE_RATE_HZ, 3))


class Session:
    """Takes utterances and typed lines, appends events, and tells listeners of each with the state it led to.

    The words of other talk are not kept where events are stored, unless `keep_talk` says so: they are the patient's.
    """

    def __init__(
        self,
        settings: Settings | None = None,
        *,
        engine: Engine | None = None,
        grammar: Grammar | None = None,
        store: Store | None = None,
        reference: str = "",
        resumed: ExamState | None = None,
        keep_talk: bool = False,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        settings = settings or Settings()
        self._engine = engine
        self._grammar = grammar or load_named(settings.language)
        self._reader = LineReader(self._grammar, ENTRY_RULE, Layer.WRITTEN)
        self._store = store or Memory()
        self._keep_talk = keep_talk or store is None
        self._now = now
        self.acuity_notation = settings.acuity_notation
        self._reminders = Reminders(settings.remind_fogging, settings.remind_fellow_eye)
        self._lens_set = settings.lens_set
        self._listeners: list[Callable[[Event, ExamState], None]] = []
        if resumed is not None:
            self.state = resumed
            return
        start = Started(
            at=now(),
            reference=reference,
            naming=settings.naming,
            distance_cm=settings.working_distance_cm,
            form=settings.cylinder_form,
            power_step_d=settings.power_step_d,
            axis_step_deg=settings.axis_step_deg,
        )
        self._store.append(start)
        self.state = after(None, start)

    def listen(self, listener: Callable[[Event, ExamState], None]) -> None:
        """Call `listener` after every event."""
        self._listeners.append(listener)

    def type_line(self, line: str, source: Source = "typed") -> Said:
        """Take one typed phrase; one that is not understood is kept as asked about, and enters nothing."""
        try:
            understood = self._reader.understand(line)
        except NotAPhraseError as error:
            return self._append(source, line.strip(), None, Reply("asked", text=str(error)))
        sure = len(understood.readings) == 1
        return self._take(source, understood.text, understood.readings[0][0], sure=sure)

    def hear(self, utterance: Utterance) -> Said:
        """Recognise one utterance and take what it says."""
        if self._engine is None:
            raise ValueError("this session was made without an engine")
        hearing = self._engine.hear(utterance.samples, ENTRY_RULE)
        return self.take_heard(hearing, utterance)

    def take_heard(self, hearing: Hearing, utterance: Utterance | None = None) -> Said:
        """Take what an engine heard."""
        outcome = decide(hearing, self._grammar.language)
        # Other talk is not kept as sound; within a note everything is, for there the sound is the note.
        kept = utterance is not None and (outcome != "ignored" or self.state.in_note)
        clip = self._store.keep_clip(utterance.samples) if utterance is not None and kept else None
        heard = _heard(hearing, utterance, clip)
        if outcome == "ignored" and not self._keep_talk:
            heard = heard.model_copy(update={"free_text": "", "alternatives": ()})
        if outcome == "ignored" or not hearing.hypotheses:
            text = hearing.free_text if self._keep_talk else ""
            return self._append("voice", text, None, Reply("ignored"), heard)
        best = hearing.hypotheses[0]
        text = in_plain_words(self._grammar, best.text)
        whole = utterance is None or utterance.whole
        sure = outcome == "accepted" and whole
        deaf = self.state.in_note or not self.state.listening
        (meaning,) = best.meanings
        if not self._hears(meaning) or (deaf and not sure):
            return self._append("voice", text, meaning, Reply("ignored", text="not listening"), heard)
        return self._take("voice", text, meaning, heard, sure=sure)

    def _hears(self, meaning: say.Meaning) -> bool:
        """While paused or within a note, only the words that end it are heard."""
        kind = meaning.kind
        if self.state.in_note:
            return kind == "end_note"
        return self.state.listening or kind == "resume"

    def _take(
        self, source: Source, text: str, meaning: say.Meaning, heard: Heard | None = None, *, sure: bool
    ) -> Said:
        reply = respond(
            self.state,
            meaning,
            sure=sure,
            heard=source == "voice",
            evidence=Evidence(self._lens_set, None if heard is None else heard.margin),
            reminders=self._reminders,
        )
        said = self._append(source, text, meaning, reply, heard)
        if reply.then is not None:
            self._take(source, text, reply.then, sure=True)
        return said

    def _append(
        self, source: Source, text: str, meaning: say.Meaning | None, reply: Reply, heard: Heard | None = None
    ) -> Said:
        said = Said(
            number=self._store.next_number,
            at=self._now(),
            source=source,
            text=text,
            meaning=meaning,
            outcome=reply.outcome,
            entry=reply.entry,
            answers=reply.answers,
            question=reply.question,
            reply=reply.text,
            heard=heard,
        )
        self._store.append(said)
        self.state = after(self.state, said)
        for listener in self._listeners:
            listener(said, self.state)
        return said


def _heard(hearing: Hearing, utterance: Utterance | None, clip: Clip | None) -> Heard:
    return Heard(
        engine=hearing.engine,
        score=hearing.score,
        margin=None if hearing.margin == float("inf") else hearing.margin,
        free_text=hearing.free_text,
        alternatives=tuple(
            Alternative(text=each.text, meaning=each.meanings[0], log_probability=each.log_probability)
            for each in hearing.hypotheses[:_KEPT_ALTERNATIVES]
        ),
        start_s=None if utterance is None else utterance.start_sample / SAMPLE_RATE_HZ,
        end_s=None if utterance is None else utterance.end_sample / SAMPLE_RATE_HZ,
        clip=None if clip is None else clip.hash,
        clip_s=None if clip is None else clip.length_s,
    )
