"""An exam as the journal holds it: what was said in it, and what was done to it afterwards. Pure folds."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import get_args

from voicelog.exam import state as exam_state
from voicelog.exam.events import Said, Started
from voicelog.exam.state import EYES, ExamState, EyeName, EyeState
from voicelog.record.amending import amended
from voicelog.record.errors import AttestedError, CannotFollowError
from voicelog.record.events import Addendum, Amended, Attested, ClipsExpired, RecordEvent, Written
from voicelog.record.inert import inert


@dataclass(frozen=True)
class ExamRecord:
    """One exam; `state` has the amendments in it."""

    started: Started
    state: ExamState
    events: tuple[RecordEvent, ...]
    attested: Attested | None = None

    @property
    def next_number(self) -> int:
        """The number that the next event must have."""
        return len(self.events)

    @property
    def amendments(self) -> dict[int, Amended]:
        """Amendments by their own event number (a ledger line's `corrected_by`)."""
        return {event.number: event for event in self.events if isinstance(event, Amended)}

    @property
    def addenda(self) -> tuple[Addendum, ...]:
        """Words added, in order."""
        return tuple(event for event in self.events if isinstance(event, Addendum))

    @property
    def clips(self) -> dict[str, Said]:
        """Every clip that is named, by its hash, with the entry that it belongs to."""
        said = (event for event in self.events if isinstance(event, Said))
        return {event.heard.clip: event for event in said if event.heard and event.heard.clip}

    @property
    def expired(self) -> frozenset[str]:
        """The clips whose time is over."""
        gone = (event.clips for event in self.events if isinstance(event, ClipsExpired))
        return frozenset(clip for clips in gone for clip in clips)

    @cached_property
    def eyes(self) -> dict[EyeName, EyeState]:
        """Both eyes, worked out once."""
        return self.state.eyes

    @property
    def unresolved(self) -> tuple[str, ...]:
        """What is still open, in words; empty when every eye that was begun is solved and nothing is asked."""
        eyes = self.eyes
        found = [f"asked and not answered: {self.state.question.text}"] if self.state.question else []
        if all(eye.status == "empty" for eye in eyes.values()):
            found.append("no eye was read")
        for name in EYES:
            if eyes[name].status in ("incomplete", "conflict"):
                texts = [problem.text for problem in eyes[name].problems] or [eyes[name].status]
                found += [f"{name} eye: {text}" for text in texts]
        return tuple(found)

    def written(self, name: EyeName) -> Written | None:
        """What an eye's result is written down as, of several passes their mean; None while it has none."""
        net = self.eyes[name].result
        if self.eyes[name].status != "solved" or net is None:
            return None
        axis = None if net.axis_deg is None else int(net.axis_deg)
        return Written(sphere_d=net.sphere_d, cylinder_d=net.cylinder_d, axis_deg=axis)

    @property
    def attested_otherwise(self) -> tuple[str, ...]:
        """Results that were attested and are worked out otherwise now, in words: the program has changed since."""
        if self.attested is None:
            return ()
        seen = {"right": self.attested.right, "left": self.attested.left}
        return tuple(
            f"{name} eye: attested as {seen[name] or 'no result'}, now worked out as {self.written(name) or 'none'}"
            for name in EYES
            if seen[name] != self.written(name)
        )


def fold(events: Iterable[RecordEvent]) -> ExamRecord:
    """The exam that events lead to. Raises CannotFollowError when they are not those of one exam, from its start."""
    record: ExamRecord | None = None
    for event in events:
        record = after(record, event)
    if record is None:
        raise CannotFollowError("an exam has at least its first event")
    return record


def after(record: ExamRecord | None, event: RecordEvent) -> ExamRecord:
    """The exam after one more event. Raises CannotFollowError, AttestedError."""
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
    return _continued(record, event)


def _continued(record: ExamRecord, event: RecordEvent) -> ExamRecord:
    record = replace(record, events=(*record.events, event))
    try:
        match event:
            case Started():
                raise CannotFollowError("an exam starts once")
            case Amended():
                return replace(record, state=amended(record.state, event))
            case Attested():
                return replace(record, attested=event)
            case Addendum() | ClipsExpired():
                return record
            case _:
                return replace(record, state=exam_state.after(record.state, event))
    except (ValueError, LookupError) as error:
        raise CannotFollowError(f"event {event.number} does not fit its exam: {error}") from error


def event_kinds() -> tuple[type[RecordEvent], ...]:
    """Every class of event that a journal can hold."""
    return tuple(kind for member in get_args(get_args(RecordEvent)[0]) for kind in _members(member))


def _members(member: object) -> tuple[type[RecordEvent], ...]:
    return (member,) if isinstance(member, type) else get_args(get_args(member)[0])
