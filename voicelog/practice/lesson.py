"""A lesson: the simulated eye on one side, the log on the other, and what the learner says in between."""

import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from voicelog.exam.entries import (
    Context,
    EyeEntry,
    LensesEntry,
    PlaceEntry,
    ReadingEntry,
    WorkingLensEntry,
)
from voicelog.exam.events import Line, Put, Remove
from voicelog.exam.questions import NeedsAnswer
from voicelog.exam.state import ExamState
from voicelog.hearing.decision import decide
from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.utterance import Utterance
from voicelog.optics import PowerVector, SpheroCylinder, meridian_to_streak_deg
from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Layer
from voicelog.phrases.grammar import load_named
from voicelog.phrases.lines import LineReader, NotAPhraseError
from voicelog.phrases.plain_words import in_plain_words
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import Glimpse, SimulatedEye
from voicelog.practice.off_axis import off_axis_change
from voicelog.practice.telling import glimpsed, hint
from voicelog.session import Session
from voicelog.settings import Settings

_PLACE_RULE: Final = "loose_where"
_LESSON_RULE: Final = "lesson"
NOTHING_LAID: Final = "lay the streak first, for instance: streak vertical"
_TYPED_ORDERS: Final[Mapping[str, say.LessonOrder]] = {
    "": "look",
    "look": "look",
    "hint": "hint",
    "tell me": "tell",
    "tell": "tell",
}
"""Typed so in every language."""
NOT_CLEAR: Final = "say it again: tell me, give me a hint, or look again"
END_WORDS: Final = ("done", "stop listening")
_SEEN: Final = ReadingEntry | LensesEntry | WorkingLensEntry | PlaceEntry
"""What is looked at once it was entered."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What comes back for a line: the log's reply, and what the retinoscope shows (None: no new look).

    `told`: the learner asked what is to be seen, and `text` says it.
    """

    said: Line | None = None
    glimpse: Glimpse | None = None
    text: str = ""
    ended: bool = False
    told: bool = False

    @property
    def seen(self) -> str:
        """What is seen, in words; empty without a look."""
        return "" if self.glimpse is None else glimpsed(self.glimpse)


@dataclass(frozen=True, slots=True)
class Turn:
    """What the learner said, and what came back."""

    text: str
    answer: Answer


class Lesson:
    """Takes lines and utterances; every one that changes lenses or streak is answered by the eye.

    `keeps`: whether its result is still to go into the learner's store (`keeping.py`).
    Safe to use from several threads: the microphone's and the page's lines are taken one after the other.
    """

    def __init__(
        self,
        exercise: Exercise,
        settings: Settings,
        *,
        session: Session | None = None,
        clock: Callable[[], float] = time.monotonic,
        keeps: bool = True,
    ) -> None:
        self.keeps = keeps
        self.exercise, self.settings = exercise, settings
        self.grammar = load_named(settings.language)
        # A simulated eye was never seen before.
        own = settings.model_copy(update={"estimate_from": "nothing"})
        self.session = session or Session(own, grammar=self.grammar)
        self.glimpses: list[Glimpse] = []
        self.looks_before: dict[str, tuple[Glimpse, ...]] = {}
        self.turns: list[Turn] = []
        self.eye = SimulatedEye(exercise.model, exercise.seed)
        self._streak_deg: float | None = None
        self._places = LineReader(self.grammar, _PLACE_RULE, Layer.WRITTEN)
        self._orders = LineReader(self.grammar, _LESSON_RULE) if _LESSON_RULE in self.grammar.rules else None
        self._clock, self._began_s = clock, clock()
        self._ended_s: float | None = None
        self._lock = threading.Lock()

    @property
    def state(self) -> ExamState:
        """The exam as it was logged."""
        return self.session.state

    @property
    def listened_for(self) -> str:
        """The rules of the grammar that are listened for: those of the log, a place alone, and orders to the lesson."""
        return " ".join(dict.fromkeys((*self.session.listened_for.split(), _PLACE_RULE, _LESSON_RULE)))

    @property
    def seconds(self) -> float:
        """Time since the lesson began, until it ended."""
        return (self._clock() if self._ended_s is None else self._ended_s) - self._began_s

    @property
    def ended(self) -> bool:
        """Whether the learner said so."""
        return self._ended_s is not None

    @property
    def lenses_tried(self) -> int:
        """Lenses looked through; the same ones twice running count once, an empty frame does not."""
        tried = (lenses for lenses, _ in groupby(each.lenses for each in self.glimpses))
        return sum(lenses != SpheroCylinder(0.0) for lenses in tried)

    def type_line(self, line: str) -> Answer:
        """Take a typed line: an entry, a place to lay the streak, "look", "hint", or a word that ends."""
        with self._lock:
            return self._kept(line.strip(), self._typed(line))

    def take_heard(self, hearing: Hearing, utterance: Utterance | None = None) -> Answer:
        """Take what an engine heard by the rules `listened_for`; other talk leaves no trace."""
        with self._lock:
            answer = self._heard(hearing, utterance)
            if answer.said is not None and answer.said.outcome == "ignored":
                return answer
            text = in_plain_words(self.grammar, hearing.hypotheses[0].text) if hearing.hypotheses else ""
            return self._kept(text, answer)

    def _kept(self, text: str, answer: Answer) -> Answer:
        self.turns.append(Turn(text, answer))
        if answer.ended and self._ended_s is None:
            self._ended_s = self._clock()
        return answer

    def _typed(self, line: str) -> Answer:
        words = line.strip().lower()
        if words in END_WORDS:
            return Answer(ended=True)
        order = _TYPED_ORDERS.get(words)
        if order is not None:
            return self._obeyed(order)
        ordered = None if self._orders is None else self._orders.phrase(words)
        if ordered is not None and isinstance(ordered.readings[0][0], say.Lesson):
            return self._obeyed(ordered.readings[0][0].order)
        if self.state.eye is None:
            try:
                return self._laid(self._places.understand(words).readings[0][0])
            except NotAPhraseError:
                pass
        return self._after(self.session.type_line(line))

    def _heard(self, hearing: Hearing, utterance: Utterance | None) -> Answer:
        best = hearing.hypotheses[0].meanings if hearing.hypotheses else ()
        outcome = decide(hearing, self.grammar.language)
        sure = outcome == "accepted"
        if sure and [each.kind for each in best] == ["pause"]:
            return Answer(ended=True)
        if outcome != "ignored" and len(best) == 1 and isinstance(best[0], say.Lesson):
            return self._obeyed(best[0].order) if sure else Answer(text=NOT_CLEAR)
        if self.state.eye is None and len(best) == 1 and isinstance(best[0], say.LooseWhere | say.Place):
            return self._laid(best[0]) if sure else Answer(text="where to? Say the streak again")
        return self._after(self.session.take_heard(hearing, utterance))

    def _obeyed(self, order: say.LessonOrder) -> Answer:
        """An order to the lesson; the log knows nothing of it."""
        if order == "tell":
            return Answer(text=self._told(), told=True)
        return Answer(text=self._hint()) if order == "hint" else self._looked(None)

    def _laid(self, place: say.Meaning) -> Answer:
        """The streak laid before any eye is named: nothing that the log could take."""
        if not isinstance(place, say.LooseWhere | say.Place):
            return Answer(text="where to? Say the streak again")
        context = Context(self.state.standing, place)
        try:
            meridian_deg = context.meridian_deg(place.where, self.state.eye or self.exercise.eye)
        except NeedsAnswer as needed:
            return Answer(text=needed.question.text)
        self._streak_deg = meridian_to_streak_deg(meridian_deg)
        return self._looked(None)

    def _after(self, line: Line) -> Answer:
        changes = [change for act in line.acts for change in act.changes]
        if not any(isinstance(change, Remove) or isinstance(change.entry, _SEEN) for change in changes):
            return Answer(line, text=self._other_eye(line))
        looks = [each.entry for each in changes if isinstance(each, Put)]
        for entry in looks:
            if isinstance(entry, ReadingEntry | PlaceEntry):
                self._streak_deg = meridian_to_streak_deg(entry.meridian_deg)
        for change in changes:
            if not isinstance(change, Remove):
                self.looks_before[change.id] = tuple(self.glimpses)
        return self._looked(line)

    def _looked(self, said: Line | None) -> Answer:
        if self._streak_deg is None:
            return Answer(said, text=NOTHING_LAID)
        lenses = self._lenses()
        before = lenses.vector + PowerVector(self.exercise.working_lens_d, 0.0, 0.0)
        before = before - off_axis_change(self.exercise.off_axis_deg)
        self.glimpses.append(self.eye.glimpse(lenses, before, self._streak_deg, self.exercise.scope))
        return Answer(said, self.glimpses[-1])

    def _lenses(self) -> SpheroCylinder:
        """What the log says is before the eye: the lenses were put there as they were named."""
        return self.state.eyes[self.state.eye or self.exercise.eye].lenses.lens

    def _told(self) -> str:
        return glimpsed(self.glimpses[-1]) if self.glimpses else NOTHING_LAID

    def _hint(self) -> str:
        if not self.glimpses:
            return f"name the eye ({self.exercise.eye} eye), then lay the streak: streak vertical"
        last = self.glimpses[-1]
        return hint(last.reflex, last.streak_deg, concave=self.exercise.concave_mirror)

    def _other_eye(self, line: Line) -> str:
        named = any(isinstance(entry, EyeEntry) for entry in line.entries)
        if named and self.state.eye != self.exercise.eye:
            return f"the eye before you is the {self.exercise.eye} one"
        return ""
