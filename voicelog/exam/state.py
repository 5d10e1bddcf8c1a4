"""Events folded into the state of the exam, one event at a time."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

from voicelog.exam.entries import Allowance, Mirror
from voicelog.exam.events import Act, Dialogue, Event, Line, OpenQuestion, Put, Started
from voicelog.exam.eye_state import EyeState
from voicelog.exam.findings import Findings
from voicelog.exam.ledger import Ledger
from voicelog.exam.near import NearFindings, near_findings
from voicelog.exam.pass_state import Writing
from voicelog.exam.questions import Question
from voicelog.exam.standing import EYES, EyeName, Standing, stand
from voicelog.exam.trail import Trail
from voicelog.phrases import meanings as say


@dataclass(frozen=True)
class ExamState:
    """The exam as it stands: the ledger, what its entries make, and where the exchange is.

    `trail` and `asked` only save folding what is known: what stood along the entries, and the state before each event
    that asked an open question, by its number.
    """

    beginning: Standing
    standing: Standing
    reference: str = ""
    writing: Writing = field(default_factory=Writing)
    ledger: Ledger = field(default_factory=Ledger)
    events: tuple[Event, ...] = ()
    dialogue: Dialogue = field(default_factory=Dialogue)
    trail: Trail | None = field(default=None, compare=False, repr=False)
    asked: Mapping[int, "ExamState"] = field(default_factory=dict, compare=False, repr=False)

    @property
    def last_number(self) -> int:
        """The number of the last line; what was amended between two has a number of its own."""
        return self.events[-1].number

    def event(self, number: int) -> Event:
        """The event of that number. Raises LookupError."""
        for each in reversed(self.events):
            if each.number == number:
                return each
        raise LookupError(f"no event {number}")

    @property
    def naming(self) -> say.Naming:
        """What bare directions name."""
        return self.standing.habit

    @property
    def eye(self) -> EyeName | None:
        """The eye now examined."""
        return self.standing.eye

    @property
    def eyes(self) -> Mapping[EyeName, EyeState]:
        """Both eyes."""
        return self.standing.eyes

    @property
    def findings(self) -> Findings:
        """What was found beside the readings."""
        return self.standing.findings

    @cached_property
    def near(self) -> Mapping[EyeName, NearFindings]:
        """Near and dynamic retinoscopy of both eyes, apart from the static readings."""
        return {name: near_findings(self.findings, name, self.writing) for name in EYES}

    @property
    def allowance(self) -> Allowance:
        """The working distance and its lens now in force."""
        return self.standing.allowance

    @property
    def distance_cm(self) -> float | None:
        """The working distance now in force."""
        return self.standing.allowance.distance_cm

    @property
    def lens_in(self) -> bool:
        """Whether the working-distance lens is before the eye."""
        return self.standing.allowance.lens_in

    @property
    def mirror(self) -> Mirror:
        """How the sleeve is set now."""
        return self.standing.mirror

    @property
    def concave_mirror(self) -> bool:
        """Whether the sleeve is set to the concave mirror now."""
        return self.standing.mirror == "concave"

    @property
    def open_question(self) -> OpenQuestion | None:
        """The question in hand."""
        return self.dialogue.questions[-1] if self.dialogue.questions else None

    @property
    def question(self) -> Question | None:
        """What the question in hand asks."""
        return self.open_question.question if self.open_question else None

    @property
    def listening(self) -> bool:
        """Whether entries are listened for."""
        return self.dialogue.listening

    @property
    def ended(self) -> bool:
        """Whether the exam was finished."""
        return self.dialogue.ended

    def after_act(self, act: Act, number: int) -> "ExamState":
        """The state after one act of event `number`. Only what goes beyond new entries is folded anew."""
        ledger = self.ledger.after(act, number)
        if act.does != "do" or not all(isinstance(change, Put) for change in act.changes):
            return self.with_ledger(ledger)
        new = [(each.id, each.entry) for each in act.changes if isinstance(each, Put)]
        if self.trail is None or self.trail.standing is not self.standing:
            return replace(self, ledger=ledger, standing=stand(self.standing, new), trail=None)
        trail = self.trail.further(new)
        return replace(self, ledger=ledger, standing=trail.standing, trail=trail)

    def with_ledger(self, ledger: Ledger) -> "ExamState":
        """The state that a ledger makes; only what comes behind the first changed entry is folded anew."""
        known = self.trail
        if known is None or known.marks[0][1] is not self.beginning:
            known = Trail.beginning(self.beginning)
        trail = known.changed_to((row.id, row.entry) for row in ledger.live)
        return replace(self, ledger=ledger, standing=trail.standing, trail=trail)


def fold(events: Iterable[Event]) -> ExamState:
    """The state that events lead to; the first must be `Started`. Pure: the same events give the same state."""
    state: ExamState | None = None
    for event in events:
        state = after(state, event)
    if state is None:
        raise ValueError("an exam has at least its first event")
    return state


def after(state: ExamState | None, event: Event) -> ExamState:
    """The state after one more event. Raises LedgerError (a ValueError) when its acts do not fit."""
    if isinstance(event, Started):
        writing = Writing(event.form, event.power_step_d, event.axis_step_deg, event.neutrality_sd_d)
        beginning = Standing.beginning(event.naming, writing, event.distance_cm, habit_said=event.naming_said)
        trail = Trail.beginning(beginning)
        return ExamState(beginning, beginning, event.reference, writing, events=(event,), trail=trail)
    if state is None:
        raise ValueError("the first event of an exam must be its start")
    return _after_line(state, event)


def with_line(state: ExamState, line: Line, before: ExamState) -> ExamState:
    """The state after a line whose acts and dialogue are in it already; `before` is the one it was said in."""
    return replace(state, events=(*state.events, line), asked=_asked(before, state.dialogue, line.number))


def _after_line(state: ExamState, event: Line) -> ExamState:
    dialogue = event.dialogue or state.dialogue
    asked = _asked(state, dialogue, event.number)
    changed = replace(state, events=(*state.events, event), dialogue=dialogue, asked=asked)
    for act in event.acts:
        changed = changed.after_act(act, event.number)
    return changed


def _asked(before: ExamState, dialogue: Dialogue, number: int) -> Mapping[int, ExamState]:
    """The states before those events in which the entries of open questions were said."""
    numbers = {opened.said_at[0] for opened in dialogue.questions}
    kept = {each: state for each, state in before.asked.items() if each in numbers}
    return kept | {number: replace(before, asked={})} if number in numbers else kept


__all__ = ["EYES", "ExamState", "EyeName", "EyeState", "Writing", "after", "fold", "with_line"]
