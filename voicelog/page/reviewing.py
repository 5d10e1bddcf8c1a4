"""The review's content: exams in a list, and one exam as a timeline with its results and plots."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from voicelog.exam import wording
from voicelog.exam.events import Heard, Said
from voicelog.exam.state import EYES, EyeName
from voicelog.page.drawings import cross
from voicelog.page.plots import Plot, meridian_plot, sequence_plot
from voicelog.page.view import EyeView, live_view
from voicelog.page.waveform import waveform_of
from voicelog.record.clips import Clips
from voicelog.record.corrections import fates
from voicelog.record.events import Addendum, Amended, Attested, ClipsExpired, RecordEvent
from voicelog.record.exams import ExamRecord
from voicelog.record.inert import inert
from voicelog.record.journal import Journal, Wanted
from voicelog.record.overviews import Overview, unescaped
from voicelog.record.showing import local_time

MOST_LISTED: Final = 100
_LONGEST: Final = 300  # characters of one text on the page; the JSON download has all of it


@dataclass(frozen=True, slots=True)
class Listed:
    """One exam in the list."""

    id: str
    begun: str
    day: str
    reference: str
    right: str
    left: str
    state: str
    open: bool


@dataclass(frozen=True, slots=True)
class Sound:
    """An entry's sound: its length, and why it cannot be played, or its address and drawing."""

    length: str
    why_not: str = ""
    href: str = ""
    wave: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """One event of the timeline. `fate` says what became of an entry that no longer counts as it was."""

    number: int
    at: str
    kind: str
    mark: str
    words: str
    meant: str
    note: str
    fate: str
    state: str
    source: str
    alternatives: tuple[str, ...]
    sound: Sound | None
    amendable: bool


@dataclass(frozen=True, slots=True)
class EyeReview:
    """One eye's results and plots."""

    view: EyeView
    by_meridian: Plot | None
    in_order: Plot | None


@dataclass(frozen=True, slots=True)
class ExamReview:
    """One exam."""

    id: str
    begun: str
    reference: str
    naming: str
    distance: str
    mirror: str
    eyes: tuple[EyeReview, ...]
    entries: tuple[Entry, ...]
    open: tuple[str, ...]
    attested: str
    attested_otherwise: tuple[str, ...]
    under_way: bool


def listed(journal: Journal, reference: str | None) -> tuple[list[Listed], list[Listed]]:
    """Exams with open points that nobody attested, and all others; the newest first. Raises RecordError."""
    wanted = Wanted(reference=reference or None, limit=MOST_LISTED)
    still_open = journal.overviews(Wanted(reference=reference or None, unresolved=True, limit=MOST_LISTED))
    first = [each for each in still_open if each.attested_by is None]
    names = {each.id for each in first}
    return [_listed(each) for each in first], [
        _listed(each) for each in journal.overviews(wanted) if each.id not in names
    ]


def _listed(found: Overview) -> Listed:
    begun = local_time(datetime.fromisoformat(found.started_at))
    is_open = bool(found.unresolved) and found.attested_by is None
    state = "open points" if is_open else "complete"
    if found.attested_by is not None:
        state = f"attested {inert(unescaped(found.attested_by))}"
    return Listed(
        id=found.id,
        begun=begun,
        day=begun.split(" ")[0],
        reference=inert(unescaped(found.reference), 60),
        right=found.right_result or found.right_status,
        left=found.left_result or found.left_status,
        state=state,
        open=is_open,
    )


def exam_review(exam: str, record: ExamRecord, clips: Clips, *, under_way: bool) -> ExamReview:
    """One exam whole; the sound of its entries is read for the drawings."""
    view = live_view(record.state)
    attested = record.attested
    return ExamReview(
        id=exam,
        begun=local_time(record.started.at),
        reference=inert(record.state.reference, 60),
        naming=view.naming,
        distance=view.distance,
        mirror="concave" if view.concave else "plane",
        eyes=tuple(_eye(name, each, record) for name, each in zip(EYES, view.eyes, strict=True)),
        entries=tuple(_entries(exam, record, clips, under_way=under_way)),
        open=() if attested else tuple(inert(text, _LONGEST) for text in record.unresolved),
        attested=f"attested by {inert(attested.by)}, {local_time(attested.at)}" if attested else "",
        attested_otherwise=tuple(inert(text) for text in record.attested_otherwise),
        under_way=under_way,
    )


def _eye(name: EyeName, view: EyeView, record: ExamRecord) -> EyeReview:
    eye = record.eyes[name]
    at_rest = replace(view, now=False, drawing=cross(eye, now=False))
    return EyeReview(at_rest, meridian_plot(eye, name), sequence_plot(eye, name))


def _entries(exam: str, record: ExamRecord, clips: Clips, *, under_way: bool) -> Iterator[Entry]:
    changed = {fate.number: fate for fate in fates(record)}
    states = {line.number: line.state for line in record.state.ledger.lines}
    open_to_change = {line.number for line in record.state.ledger.live} if not under_way else set()
    for event in record.events[1:]:
        said = event if isinstance(event, Said) else None
        heard = said.heard if said else None
        fate = changed.get(event.number)
        yield Entry(
            number=event.number,
            at=f"{event.at.astimezone():%H:%M:%S}",
            kind=event.kind,
            mark=_MARKS[said.outcome] if said else "note",
            words=inert(_words(event), _LONGEST),
            meant=wording.meaning(said.entry) if said and said.entry else "",
            note=inert(_note(event), _LONGEST),
            fate=inert(fate.sentence, _LONGEST) if fate else "",
            state=states.get(event.number, "live"),
            source=said.source if said else "",
            alternatives=tuple(_alternatives(heard)) if heard else (),
            sound=_sound(exam, heard, record, clips) if heard else None,
            amendable=record.attested is None and event.number in open_to_change,
        )


_MARKS: Final = {"accepted": "entered", "asked": "asked", "ignored": "left-out"}


def _words(event: RecordEvent) -> str:
    match event:
        case Said():
            return event.text or "other talk"
        case Amended():
            return f"entry {event.entry} amended by {event.by}: {event.text or 'taken out'}"
        case Attested():
            return f"attested by {event.by}"
        case Addendum():
            return f"added by {event.by}: {event.text}"
        case ClipsExpired():
            return f"the sound of {len(event.clips)} entries was kept for {event.days} days"
        case _:
            return event.kind


def _note(event: RecordEvent) -> str:
    if isinstance(event, Amended):
        return f"reason: {event.reason}"
    if isinstance(event, Said):
        return "" if event.outcome == "ignored" or event.entry is not None else event.reply
    return ""


def _alternatives(heard: Heard) -> Iterator[str]:
    """What else it could have been, with how much less likely that was."""
    found = heard.alternatives
    for each in found[1:]:
        less = found[0].log_probability - each.log_probability
        yield f"{wording.meaning(each.meaning)} ({_times(less)})"


def _times(log_ratio: float) -> str:
    ratio = 2.718281828459045 ** min(log_ratio, 7.0)
    return "over 1000 times less likely" if ratio > 1000 else f"{ratio:.1f} times less likely"


def _sound(exam: str, heard: Heard, record: ExamRecord, clips: Clips) -> Sound | None:
    if heard.clip_s is None:
        return None
    length = f"{heard.clip_s:.1f} s"
    if heard.clip is None:
        return Sound(length, "not kept")
    if heard.clip in record.expired:
        return Sound(length, "its days are over")
    state = clips.state(exam, heard.clip)
    if state != "kept":
        return Sound(length, state)
    href = f"/review/{exam}/sounds/{heard.clip}.flac"
    return Sound(length, href=href, wave=waveform_of(clips.path(exam, heard.clip)))
