"""The review's content: one exam as a timeline with its results and plots."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from typing import Any, Final

from voicelog.exam import wording
from voicelog.exam.acuity_lines import Notation
from voicelog.exam.advising import is_net, step_words
from voicelog.exam.events import Heard, Line
from voicelog.exam.state import EYES, EyeName
from voicelog.page.drawings import cross
from voicelog.page.plots import Plot, meridian_plot, sequence_plot
from voicelog.page.view import EyeView, live_view
from voicelog.page.visits import CourseView, course_view
from voicelog.page.waveform import waveform_of
from voicelog.record.clips import Clips
from voicelog.record.corrections import Fate, fates
from voicelog.record.events import Addendum, Amended, Attested, ClipsExpired, RecordEvent
from voicelog.record.exams import ExamRecord
from voicelog.record.inert import inert
from voicelog.record.old_events import OldAmended
from voicelog.record.showing import local_time
from voicelog.record.visits import Course
from voicelog.screen.findings import FindingRow
from voicelog.screen.rows import Row, rows_of

_LONGEST: Final = 300  # characters of one text on the page; the JSON download has all of it


@dataclass(frozen=True, slots=True)
class Sound:
    """An entry's sound: its length, and why it cannot be played, or its address and drawing."""

    length: str
    why_not: str = ""
    href: str = ""
    wave: str = ""


@dataclass(frozen=True, slots=True)
class Entry:
    """One row of the timeline: one thing that came of a line, or one thing that was done afterwards.

    `id` is that of its entry. `at`, `words` and `sound` are empty where those of the line stand above. `fate` says what
    became of an entry that no longer counts as it was, `added` who added it afterwards and why; `undoes` is the
    amendment that may be taken back here.
    """

    id: str
    number: int
    at: str
    kind: str
    mark: str
    words: str
    meant: str
    note: str
    fate: str
    state: str
    source: str = ""
    alternatives: tuple[str, ...] = ()
    sound: Sound | None = None
    added: str = ""
    amendable: bool = False
    undoes: int | None = None


@dataclass(frozen=True, slots=True)
class EyeReview:
    """One eye's results and plots."""

    view: EyeView
    by_meridian: Plot | None
    in_order: Plot | None
    steps: tuple[str, ...]
    """How likely each step is in both meridians by all looks; empty where all looks say nothing of their own."""
    steps_are: str
    """Which powers the steps are: "net", or "gross" where no distance was said."""


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
    findings: tuple[FindingRow, ...]
    visits: tuple[CourseView, ...]
    """The exams of the same reference, this one among them; empty where there is no other."""
    open: tuple[str, ...]
    attested: str
    attested_otherwise: tuple[str, ...]
    seals: tuple[str, ...]
    under_way: bool
    discardable: bool


def exam_review(
    exam: str,
    record: ExamRecord,
    clips: Clips,
    *,
    under_way: bool,
    notation: Notation | None = None,
    visits: Iterable[Course] = (),
) -> ExamReview:
    """One exam whole; the sound of its entries is read for the drawings. Acuity is written in `notation`.

    `visits` are those of the exam's reference.
    """
    view = live_view(record.state, notation)
    attested = record.attested
    return ExamReview(
        id=exam,
        begun=local_time(record.started.at),
        reference=inert(record.state.reference, 60),
        naming=view.naming,
        distance=view.distance,
        mirror=view.mirror,
        eyes=tuple(_eye(name, each, record) for name, each in zip(EYES, view.eyes, strict=True)),
        entries=tuple(_entries(exam, record, clips, under_way=under_way)),
        findings=view.findings,
        visits=tuple(course_view(each) for each in visits),
        open=() if attested else tuple(inert(text, _LONGEST) for text in record.unresolved),
        attested=f"signed off by {inert(attested.by)}, {local_time(attested.at)}" if attested else "",
        attested_otherwise=tuple(inert(text) for text in record.attested_otherwise),
        seals=tuple(_seals(record)),
        under_way=under_way,
        discardable=record.is_empty and not under_way,
    )


def _seals(record: ExamRecord) -> Iterator[str]:
    """What a signature stands for, in words."""
    for name in EYES:
        results = [each for each in record.results if each.eye == name]
        words = "; ".join(f"{each.written} ({each.condition})" for each in results)
        yield f"{name} eye: {words or 'no result'}"
    entries = len(record.state.ledger.live)
    yield f"{entries} {'entry that counts' if entries == 1 else 'entries that count'}"
    if record.amendments:
        yield f"{len(record.amendments)} made or undone afterwards"
    if record.added:
        yield f"{len(record.added)} added afterwards"
    for text in record.unresolved:
        yield f"left open: {inert(text, _LONGEST)}"


def _eye(name: EyeName, view: EyeView, record: ExamRecord) -> EyeReview:
    eye = record.eyes[name]
    at_rest = replace(view, now=False, drawing=cross(eye, now=False))
    steps = step_words(eye) if view.estimate else ()
    kind = "net" if is_net(eye) else "gross"
    return EyeReview(at_rest, meridian_plot(eye, name), sequence_plot(eye, name), steps, kind)


def _entries(exam: str, record: ExamRecord, clips: Clips, *, under_way: bool) -> Iterator[Entry]:
    open_to_change = not under_way and record.attested is None
    fates_by_id = {fate.id: fate for fate in fates(record)}
    for event in record.events[1:]:
        line = record.lines.get(event.number)
        if line is None:
            entry = _done_afterwards(event)
            yield replace(entry, undoes=event.number) if open_to_change and _is_last(record, event) else entry
            continue
        for index, row in enumerate(rows_of(record.state, line)):
            fate = fates_by_id.get(row.id)
            entry = _entry(record, line, row, fate, amendable=open_to_change)
            yield entry if index else replace(entry, **_of_line(exam, line, record, clips))


def _is_last(record: ExamRecord, event: RecordEvent) -> bool:
    """Whether it is an amendment, and its entries were not changed since."""
    rows, amendment = record.state.ledger.rows, record.amendments.get(event.number)
    return amendment is not None and all(
        rows[each.id].changed_by == event.number for each in amendment.changes
    )


def _entry(record: ExamRecord, line: Line, row: Row, fate: Fate | None, *, amendable: bool) -> Entry:
    entered = record.state.ledger.rows.get(row.id)
    became = inert(fate.sentence, _LONGEST) if fate is not None else ""
    if row.fate == "superseded":
        became = "; ".join(text for text in ("superseded by a later reading", became) if text)
    return Entry(
        id=row.id,
        number=line.number,
        at="",
        kind=line.kind,
        mark=_MARKS[row.outcome],
        words="",
        meant="" if entered is None else inert(entered.original.words(), _LONGEST),
        note="" if entered is not None or row.outcome == "ignored" else inert(row.reply, _LONGEST),
        fate=became,
        state=row.fate,
        amendable=amendable and entered is not None and not entered.withdrawn,
    )


def _of_line(exam: str, line: Line, record: ExamRecord, clips: Clips) -> dict[str, Any]:
    """What the first row of a line has beside the others: its words, when and how it was said."""
    return {
        "at": f"{line.at.astimezone():%H:%M:%S}",
        "words": inert(line.text or "other talk", _LONGEST),
        "source": line.source,
        "added": "" if line.added is None else inert(line.added.words, _LONGEST),
        "alternatives": tuple(_alternatives(line.heard)) if line.heard else (),
        "sound": _sound(exam, line.heard, record, clips) if line.heard else None,
    }


_MARKS: Final = {"accepted": "entered", "asked": "asked", "ignored": "left-out"}


def _done_afterwards(event: RecordEvent) -> Entry:
    words, note = _afterwards(event)
    return Entry(
        id=str(event.number),
        number=event.number,
        at=f"{event.at.astimezone():%H:%M:%S}",
        kind=event.kind,
        mark="note",
        words=inert(words, _LONGEST),
        meant="",
        note=inert(note, _LONGEST),
        fate="",
        state="live",
    )


def _afterwards(event: RecordEvent) -> tuple[str, str]:
    """What was done after the exam, and why."""
    match event:
        case Amended():
            return event.what, f"reason: {event.reason}"
        case OldAmended():
            return (
                f"entry {event.entry} amended by {event.by}: {event.text or 'taken out'}",
                f"reason: {event.reason}",
            )
        case Attested():
            return f"signed off by {event.by}", ""
        case Addendum():
            return f"added by {event.by}: {event.text}", ""
        case ClipsExpired():
            return f"the sound of {len(event.clips)} entries was kept for {event.days} days", ""
        case _:
            return event.kind, ""


def _alternatives(heard: Heard) -> Iterator[str]:
    """What else it could have been, with how much less likely that was."""
    found = heard.alternatives
    for each in found[1:]:
        less = found[0].log_probability - each.log_probability
        said = "; ".join(wording.meaning(meaning) for meaning in each.meanings)
        yield f"{said} ({_times(less)})"


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
