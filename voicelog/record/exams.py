"""An exam as the journal holds it: what was said in it, and what was done to it afterwards. Pure folds."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import get_args

from voicelog.exam import state as exam_state
from voicelog.exam.events import Line, Started
from voicelog.exam.state import EYES, ExamState, EyeName, EyeState
from voicelog.optics import SpheroCylinder
from voicelog.record.amending import amended
from voicelog.record.errors import AttestedError, CannotFollowError
from voicelog.record.events import Addendum, Amended, Attested, ClipsExpired, RecordEvent, Result, Written
from voicelog.record.inert import inert
from voicelog.record.old_events import OldAmended, Said
from voicelog.record.translating import amendment_of, line_of


@dataclass(frozen=True)
class ExamRecord:
    """One exam; `state` has the amendments in it.

    `amendments` are by their own event number (a ledger row's `changed_by`), `not_taken_up` says by number why what was
    entered in an old journal is no entry today. `events` are as they were written, old ones too.
    """

    started: Started
    state: ExamState
    events: tuple[RecordEvent, ...]
    attested: Attested | None = None
    amendments: Mapping[int, Amended] = field(default_factory=dict)
    not_taken_up: Mapping[int, str] = field(default_factory=dict)

    @property
    def next_number(self) -> int:
        """The number that the next event must have."""
        return len(self.events)

    @cached_property
    def lines(self) -> Mapping[int, Line]:
        """What was said, by event number; lines of old journals in today's form."""
        return {event.number: event for event in self.state.events if isinstance(event, Line)}

    @property
    def is_old(self) -> bool:
        """Whether it was begun by a program that did not keep complete entries."""
        return any(isinstance(event, Said | OldAmended) for event in self.events)

    @property
    def addenda(self) -> tuple[Addendum, ...]:
        """Words added, in order."""
        return tuple(event for event in self.events if isinstance(event, Addendum))

    @property
    def added(self) -> tuple[Line, ...]:
        """What was entered after the exam, in order."""
        return tuple(line for line in self.lines.values() if line.added is not None)

    @property
    def is_empty(self) -> bool:
        """Whether nothing was ever entered, asked, added or attested in it."""
        said = any(line.outcome != "ignored" for line in self.lines.values())
        return not (said or self.state.ledger.rows or self.addenda or self.attested or self.amendments)

    @property
    def clips(self) -> dict[str, Line]:
        """Every clip that is named, by its hash, with the line that it belongs to."""
        return {line.heard.clip: line for line in self.lines.values() if line.heard and line.heard.clip}

    @property
    def expired(self) -> frozenset[str]:
        """The clips whose time is over."""
        gone = (event.clips for event in self.events if isinstance(event, ClipsExpired))
        return frozenset(clip for clips in gone for clip in clips)

    @cached_property
    def eyes(self) -> Mapping[EyeName, EyeState]:
        """Both eyes, worked out once."""
        return self.state.eyes

    @property
    def unresolved(self) -> tuple[str, ...]:
        """What is still open, in words; empty when every eye that was begun is solved and nothing is asked."""
        dialogue = self.state.dialogue
        found = [f"asked and not answered: {each.question.text}" for each in dialogue.questions]
        if dialogue.waiting:
            found.append(f"said and not entered: {len(dialogue.waiting)}")
        found += [f"entry {number} is not taken up: {why}" for number, why in self.not_taken_up.items()]
        if all(eye.status == "empty" for eye in self.eyes.values()):
            found.append("no eye was read")
        return (*found, *(text for name in EYES for text in self._open_in(name)))

    def _open_in(self, name: EyeName) -> Iterator[str]:
        """What stands in the way of a result: in the pass in hand, and in those of a condition without any."""
        eye = self.eyes[name]
        with_result = {each.condition for each in eye.passes if each.status == "solved"}
        for each in eye.passes:
            in_hand = each is eye.in_hand
            if each.status == "solved" or not (in_hand or each.condition not in with_result):
                continue
            which = "" if in_hand else f", pass {each.number} ({each.condition})"
            for text in [problem.text for problem in each.problems] or [each.status]:
                yield f"{name} eye{which}: {text}"

    def written(self, name: EyeName) -> Written | None:
        """What an eye's result is written down as, of several passes their mean; None while it has none."""
        eye = self.eyes[name]
        return None if eye.status != "solved" or eye.result is None else _written(eye.result)

    @property
    def results(self) -> tuple[Result, ...]:
        """Every refraction that the exam came to, of each eye without drops and under cycloplegia."""
        found = []
        for name in EYES:
            eye = self.eyes[name]
            for condition in eye.conditions:
                lens = eye.result_of(condition)
                blocked = condition == eye.result_condition and eye.status != "solved"
                if lens is not None and not blocked:
                    found.append(Result(eye=name, condition=condition, written=_written(lens)))
        return tuple(found)

    @property
    def attested_otherwise(self) -> tuple[str, ...]:
        """Results that were attested and are worked out otherwise now, in words: the program has changed since."""
        if self.attested is None:
            return ()
        if not self.attested.results:
            seen = {"right": self.attested.right, "left": self.attested.left}
            pairs = [(f"{name} eye", seen[name], self.written(name)) for name in EYES]
        else:
            then = {(each.eye, each.condition): each.written for each in self.attested.results}
            now = {(each.eye, each.condition): each.written for each in self.results}
            pairs = [
                (f"{eye} eye, {condition}", then.get((eye, condition)), now.get((eye, condition)))
                for eye, condition in dict.fromkeys((*then, *now))
            ]
        return tuple(
            f"{what}: attested as {one or 'no result'}, now worked out as {other or 'none'}"
            for what, one, other in pairs
            if one != other
        )


def _written(lens: SpheroCylinder) -> Written:
    axis = None if lens.axis_deg is None else int(lens.axis_deg)
    return Written(sphere_d=lens.sphere_d, cylinder_d=lens.cylinder_d, axis_deg=axis)


def fold(events: Iterable[RecordEvent]) -> ExamRecord:
    """The exam that events lead to. Raises CannotFollowError when they are not those of one exam, from its start."""
    record: ExamRecord | None = None
    for event in events:
        record = after(record, event)
    if record is None:
        raise CannotFollowError("an exam has at least its first event")
    return record


def after(record: ExamRecord | None, event: RecordEvent, state: ExamState | None = None) -> ExamRecord:
    """The exam after one more event. Raises CannotFollowError, AttestedError.

    `state` is what a line leads to where that is known already; None: it is worked out.
    """
    if record is not None and record.attested is not None and not isinstance(event, Addendum | ClipsExpired):
        when = record.attested.at.date().isoformat()
        raise AttestedError(
            f"the exam was attested by {inert(record.attested.by)} on {when}: only an addendum can be added"
        )
    expected = 0 if record is None else record.next_number
    if event.number != expected:
        raise CannotFollowError(f"event {event.number} cannot follow: number {expected} comes next")
    if record is None:
        if not isinstance(event, Started):
            raise CannotFollowError("the first event of an exam must be its start")
        return ExamRecord(event, exam_state.after(None, event), (event,))
    return _continued(record, event, state)


def _continued(record: ExamRecord, event: RecordEvent, state: ExamState | None) -> ExamRecord:
    record = replace(record, events=(*record.events, event))
    try:
        match event:
            case Started():
                raise CannotFollowError("an exam starts once")
            case Amended():
                return _amended(record, event)
            case OldAmended():
                return _amended_then(record, event)
            case Said():
                return _said_then(record, event)
            case Attested():
                return replace(record, attested=event)
            case Addendum() | ClipsExpired():
                return record
            case _:
                return replace(record, state=state or exam_state.after(record.state, event))
    except (ValueError, LookupError) as error:
        raise CannotFollowError(f"event {event.number} does not fit its exam: {error}") from error


def _amended(record: ExamRecord, event: Amended) -> ExamRecord:
    amendments = {**record.amendments, event.number: event}
    return replace(record, state=amended(record.state, event), amendments=amendments)


def _amended_then(record: ExamRecord, event: OldAmended) -> ExamRecord:
    try:
        return _amended(record, amendment_of(record.state, event))
    except CannotFollowError as error:
        return replace(record, not_taken_up={**record.not_taken_up, event.number: str(error)})


def _said_then(record: ExamRecord, event: Said) -> ExamRecord:
    translated = line_of(record.state, event, record.events[:-1])
    record = replace(record, state=exam_state.after(record.state, translated.line))
    if not translated.not_taken_up:
        return record
    return replace(record, not_taken_up={**record.not_taken_up, event.number: translated.not_taken_up})


def event_kinds() -> tuple[type[RecordEvent], ...]:
    """Every class of event that a journal can hold."""
    return tuple(kind for member in get_args(get_args(RecordEvent)[0]) for kind in _members(member))


def _members(member: object) -> tuple[type[RecordEvent], ...]:
    return (member,) if isinstance(member, type) else get_args(get_args(member)[0])
