"""One exam under way: joins hearing, phrases and the exam. The command line, the page and the tests drive this."""

from collections.abc import Callable, Sequence
from datetime import UTC, datetime

from voicelog.exam.answering import fitting
from voicelog.exam.breath import Reply
from voicelog.exam.events import LeftOut, Line, Source
from voicelog.exam.exchange import respond
from voicelog.exam.expecting import rules
from voicelog.exam.lost import after_loss, half_named, not_understood
from voicelog.exam.orders import LIVE, NO_ORDERS, Orders
from voicelog.exam.round import OVER, goes_on, is_over, reference_asked
from voicelog.exam.state import ExamState
from voicelog.exam.unlikely import Evidence
from voicelog.exam.withdrawing import MOST_SCRATCHED
from voicelog.hearing.decision import decide, is_close
from voicelog.hearing.engines.protocol import Engine, Hearing
from voicelog.hearing.joining import Begun
from voicelog.hearing.patience import patience_s
from voicelog.hearing.utterance import Utterance
from voicelog.phrases import meanings as say
from voicelog.phrases.as_written import as_written
from voicelog.phrases.going_on import going_on
from voicelog.phrases.grammar import LINE_RULE, Grammar, load_named
from voicelog.phrases.half_said import NOTHING_NAMED, HalfSaid
from voicelog.phrases.lines import TYPED, NotAPhraseError, reader_of
from voicelog.phrases.matcher import Matcher, tokenise
from voicelog.phrases.plain_words import in_plain_words
from voicelog.record.spoken import Spoken, heard_of
from voicelog.record.storing import Memory, NotKeptError, Store, log_fault
from voicelog.session.guessing import guess_heard, is_scrap, is_sure, is_yes, may_ask_typed, note_heard
from voicelog.session.keeping import Keeping, reminders_of, started
from voicelog.settings import Settings

_IN_FULL = "in_full"
"""The rule of orders that need no question."""


class Session(Keeping):
    """Takes utterances and typed lines, appends events, and tells listeners of each with the state it led to.

    What raises has entered nothing and may be given again; NotKeptError: the store refused it.

    The words of what is not for the log are not kept where events are stored, nor their sound, unless `keep_talk` says
    so: they are the patient's.
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
        on_fault: Callable[[Exception], None] = log_fault,
        on_moved: Callable[[], None] = lambda: None,
    ) -> None:
        super().__init__(store or Memory(), now, on_fault, on_moved)
        settings = settings or Settings()
        self._engine = engine
        self._grammar = grammar or load_named(settings.language)
        self._keep_talk = keep_talk or store is None
        self.acuity_notation = settings.acuity_notation
        self._reminders = reminders_of(settings)
        self._lens_set = settings.lens_set
        self._begun: Begun | None = None
        self._suggested = (0, "")
        if resumed is not None:
            self.state = resumed
            return
        self._start(started(settings, reference, now()))

    @property
    def listened_for(self) -> str:
        """The rules of the grammar that are listened for as the exam stands, with spaces between."""
        return " ".join(rules(self.state))

    def patience_s(self, hearing: Hearing) -> float | None:
        """How much silence ends an utterance of which this was heard so far; None: as much as usual."""
        return patience_s(hearing, self._grammar.language)

    def type_line(self, line: str, source: Source = "typed") -> Line:
        """Take one typed phrase; one that is not understood enters nothing, and the nearest phrase is asked about."""
        return self._caught_up(lambda: self._type_line(line, source))

    def _type_line(self, line: str, source: Source) -> Line:
        reader = reader_of(self._grammar, " ".join(rules(self.state, typed=True)), *TYPED)
        try:
            understood = reader.understand(line)
        except NotAPhraseError as error:
            if self._is_over:
                return self._over(source, line)
            nearest = reader.phrase(error.nearest) if error.nearest is not None and error.likely else None
            guess = None if nearest is None else nearest.readings[0]
            if guess is not None and may_ask_typed(guess, self.state):
                # An entry is asked about as it would be entered; a question or a command as it is said.
                asked = f"did you mean {error.nearest!r}?" if any(map(say.is_command, guess)) else ""
                return self._take(source, line.strip(), guess, sure=False, asked=asked)
            if error.begun:
                return self._take(source, line.strip(), error.begun, sure=True, unclear=str(error))
            refused = self._append(
                source, line.strip(), (), not_understood(self.state, str(error), error.half)
            )
            self._suggested = (refused.number, error.nearest or "")  # "yes" takes it
            return refused
        number, suggested = self._suggested
        just_suggested = number == self.state.last_number and self.state.question is None
        if suggested and just_suggested and is_yes(understood.readings):
            return self._type_line(suggested, source)
        readings = fitting(self.state, understood.readings)
        readings = (as_written(line, readings[0], self._grammar.language), *readings[1:])
        if self._is_over and not goes_on(readings[0]):
            return self._over(source, line)
        return self._take(source, understood.text, readings[0], sure=is_sure(line, readings))

    def _over(self, source: Source, line: str) -> Line:
        """A finished exam takes nothing but what begins the next one, and says so."""
        return self._append(source, line.strip(), (), Reply("ignored", replies=(OVER,)), left_out="paused")

    def hear(self, utterance: Utterance) -> Line:
        """Recognise one utterance and take what it says."""
        if self._engine is None:
            raise ValueError("this session was made without an engine")
        hearing = self._engine.hear(utterance.samples, self.listened_for)
        return self.take_heard(hearing, utterance)

    def take_heard(self, hearing: Hearing, utterance: Utterance | None = None) -> Line:
        """Take what an engine heard. What is not for the log is kept neither as words nor as sound."""
        begun = self._begun

        def take() -> Line:
            try:
                return self._take_heard(hearing, utterance)
            except BaseException:
                self._begun = begun  # given again, it goes on with the same
                raise

        return self._caught_up(take)

    def _take_heard(self, hearing: Hearing, utterance: Utterance | None) -> Line:
        outcome, rule = decide(hearing, self._grammar.language), self.listened_for
        begun, self._begun = self._begun, None
        if is_scrap(outcome, hearing, utterance):
            return self._leave_out("", Spoken(hearing, utterance), "over_speech")
        if begun is not None and utterance is not None and begun.may_go_on(utterance, self._grammar):
            both = self._take_both(begun, hearing, utterance)
            if both is not None:
                return both
        deaf = not self.state.listening or self._is_over
        best = hearing.hypotheses[0] if hearing.hypotheses else None
        left_out = outcome == "ignored" or best is None
        sure = outcome == "accepted" and (utterance is None or utterance.whole)
        if best is not None and deaf and not (sure and self._wakes(best.meanings)):
            left_out = True
        note = note_heard(self._grammar, hearing) if outcome == "ignored" and not deaf else None
        if note is not None:
            sure = utterance is None or utterance.whole
            return self._take("voice", hearing.free_text, note, Spoken(hearing, utterance), sure=sure)
        guess = guess_heard(self._grammar, hearing, self.state) if outcome == "ignored" and not deaf else None
        if guess is not None:
            line = self._take("voice", hearing.free_text, guess, Spoken(hearing, utterance), sure=False)
            if utterance is not None:
                self._begun = Begun(utterance, rule, hearing, line.outcome, 0)
            return line
        if left_out or best is None:
            if utterance is not None:
                self._begun = Begun(utterance, rule, hearing, "ignored", 0)
            why: LeftOut = "paused" if deaf else "unclear" if is_close(hearing) else "talk"
            half = NOTHING_NAMED if deaf else self._half_said(hearing, why)
            return self._leave_out(hearing.free_text, Spoken(hearing, utterance), why, half)
        text = in_plain_words(self._grammar, best.text)
        line = self._take("voice", text, best.meanings, Spoken(hearing, utterance), sure=sure)
        if len(line.acts) <= MOST_SCRATCHED and utterance is not None:
            self._begun = Begun(utterance, rule, hearing, line.outcome, len(line.acts))
        return line

    def take_missed(self, utterance: Utterance, why: LeftOut) -> Line:
        """Note an utterance that was not recognised."""
        self._begun = None
        return self._caught_up(lambda: self._leave_out("", Spoken(None, utterance), why))

    def take_lost(self, utterance: Utterance | None = None, source: Source = "voice") -> Line:
        """Note what was said and could not be taken for a fault: it may have named an eye, so the eye is asked."""
        self._begun = None
        heard = None if source != "voice" else heard_of(Spoken(None, utterance), None)

        def take() -> Line:
            reply = after_loss(self.state, self._store.next_number)
            return self._append(source, "", (), reply, heard, "failed")

        return self._caught_up(take)

    def note_refusal(self, words: str) -> Line:
        """Write down that the record refused what was entered just before, for a while."""
        reply = Reply("ignored", replies=(words,))
        return self._caught_up(lambda: self._append("voice", "", (), reply, left_out="refused"))

    def _catch_up(self, error: NotKeptError) -> Line | None:
        """The exam moved on: what is heard next is not the rest of what was begun before."""
        kept = super()._catch_up(error)
        self._begun = None
        return kept

    def _take_both(self, begun: Begun, rest: Hearing, utterance: Utterance) -> Line | None:
        """Take an utterance as the rest of what was begun just before; None where it is not.

        What was entered of the beginning gives place to the whole. Talk is joined to no answer; half a number is none.
        """
        answers = self.state.question is not None and begun.outcome == "ignored"
        apart = (answers and not begun.is_number(self._grammar)) or begun.is_apart_from(rest, self._grammar)
        if apart or self._engine is None or not self.state.listening:
            return None
        samples = begun.sound_with(utterance)
        both = self._engine.hear(samples, begun.rule)
        outcome = begun.together(rest, both, self._grammar)
        if outcome == "ignored" and not (answers and begun.leaves_half(rest, self._grammar)):
            return None
        best, sure = (rest if outcome == "ignored" else both).hypotheses[0], outcome == "accepted"
        whole = Spoken(both, utterance, samples, begun.utterance.start_sample)
        meanings = begun.in_its_place(best.meanings, sure=sure)
        line = self._take("voice", in_plain_words(self._grammar, best.text), meanings, whole, sure=sure)
        if sure and (entered := sum(act.does == "do" for act in line.acts)) <= MOST_SCRATCHED:
            self._begun = begun.with_rest(utterance, samples, both, line.outcome, entered)
        return line

    def _half_said(self, hearing: Hearing, why: LeftOut) -> HalfSaid:
        """What was perhaps named by what was heard and not taken; talk names no lens and no distance."""
        half = reader_of(self._grammar, LINE_RULE, *TYPED).half_said(hearing.free_text)
        if why != "unclear":
            return half._replace(lens=False, distance=False)
        named = [each for each in hearing.hypotheses[0].meanings if isinstance(each, say.Eye)]
        return half._replace(eye=named[-1]) if named else half

    def _leave_out(self, text: str, sound: Spoken, why: LeftOut, half: HalfSaid = NOTHING_NAMED) -> Line:
        """A row without entry: that something was said, and why nothing came of it; `half` is what it named."""
        heard = heard_of(sound, None)
        if not self._keep_talk:
            text, heard = "", heard.model_copy(update={"free_text": "", "alternatives": ()})
        reply = Reply("ignored", dialogue=half_named(self.state, half))
        return self._append("voice", text, (), reply, heard, why)

    def _wakes(self, meanings: Sequence[say.Meaning]) -> bool:
        """While paused, only the words that end it are heard."""
        if self._is_over:
            return goes_on(meanings)
        return len(meanings) == 1 and meanings[0].kind in ("resume", "start")

    @property
    def _is_over(self) -> bool:
        return self.on_order is not None and is_over(self.state)

    def _take(
        self,
        source: Source,
        text: str,
        meanings: tuple[say.Meaning, ...],
        sound: Spoken | None = None,
        *,
        sure: bool,
        unclear: str = "",
        asked: str = "",
    ) -> Line:
        meanings = going_on(self._grammar, text, meanings)
        reply = respond(
            self.state,
            meanings,
            number=self._store.next_number,
            sure=sure,
            heard=sound is not None,
            evidence=Evidence(self._lens_set, None if sound is None else sound.margin),
            reminders=self._reminders,
            orders=self._orders_for(text),
            unclear=unclear,
            asked=asked,
            earlier=self.earlier,
        )
        if sound is None:
            return self._append(source, text, meanings, reply)
        if reply.outcome == "ignored" and not self._keep_talk:
            return self._leave_out(text, sound, "unclear")
        left_out: LeftOut = "unclear" if reply.outcome == "ignored" else ""
        return self._append(source, text, meanings, reply, heard_of(sound, self._clip(sound)), left_out)

    def ask_reference(self) -> Line:
        """Ask for the reference of the exam that has just begun."""
        return self._append("voice", "", (), reference_asked(self.state, self._store.next_number))

    def _orders_for(self, text: str) -> Orders:
        """What may be carried out, as the exam stands; `text` is the line."""
        if self.on_order is None:
            return NO_ORDERS
        in_full = _IN_FULL in self._grammar.rules and (
            Matcher(self._grammar.walker(_IN_FULL)).log_weight(tokenise(text, self._grammar.language))
            is not None
        )
        return Orders(LIVE, in_full, refers=self._store.is_empty)
