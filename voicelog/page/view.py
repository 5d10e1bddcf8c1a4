"""The live page's content, worked out from the exam's state: plain values that the templates only lay out."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC
from typing import Final, Literal

from voicelog.exam.acuity_lines import Notation
from voicelog.exam.events import Line
from voicelog.exam.eye_state import EyeState
from voicelog.exam.protocol import still_missing
from voicelog.exam.state import EYES, ExamState, EyeName
from voicelog.live.exchange_table import HINTS, state_of
from voicelog.live.feedback import feedback
from voicelog.optics import written_axis, written_cm, written_power
from voicelog.page.drawings import Cross, cross
from voicelog.page.values import Value, entered_value, place, said_value, signed
from voicelog.screen.eyes import (
    PassRow,
    ShownReading,
    condition_words,
    estimate_words,
    lens_words,
    pass_rows,
    result_words,
    shown_readings,
)
from voicelog.screen.findings import FindingRow, finding_rows, labelled_findings
from voicelog.screen.rows import Fate, changed_ids, contradicts, rows_of, waiting_words
from voicelog.speaking.tones import Signal

Mark = Literal["entered", "asked", "contradicts", "left-out", "none"]

MARK_WORDS: Final[Mapping[Mark, str]] = {
    "entered": "entered",
    "asked": "asked: answer",
    "contradicts": "contradicts",
    "left-out": "left out",
    "none": "nothing yet",
}
_MARKS: Final[Mapping[str, Mark]] = {"accepted": "entered", "asked": "asked", "ignored": "left-out"}


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the entry log: one thing that came of a line. `words` are empty where the line's words stand above."""

    id: str
    number: int
    at: str
    moment: str
    """The same in full, ISO 8601 to the millisecond, UTC."""
    mark: Mark
    words: str
    note: str
    state: Fate


@dataclass(frozen=True, slots=True)
class Last:
    """What was heard last, other talk apart."""

    number: int
    mark: Mark
    value: Value
    text: str
    """The question, the contradiction, or the answer to the examiner's own question."""
    source: str


@dataclass(frozen=True, slots=True)
class Meridian:
    """One reading as a line of numbers; `taken`: what it was taken with, where that is not what is in force now."""

    place: tuple[str, str]
    motion: str
    gross: str
    net: str
    taken: str = ""
    superseded: bool = False


@dataclass(frozen=True, slots=True)
class EyeView:
    """One eye; `sphere` is empty while its refraction is not determined.

    `results` are those of dry and wet with their names, side by side; `passes` are empty where an eye is read once.
    """

    name: EyeName
    now: bool
    status: str
    condition: str
    drawing: Cross
    meridians: tuple[Meridian, ...]
    sphere: str
    cylinder: str
    axis: str
    equivalent: str
    uncertainty: str
    estimate: str
    results: tuple[tuple[str, str], ...]
    passes: tuple[PassRow, ...]
    problems: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LiveView:
    """The whole live page."""

    number: int
    eye: EyeName | None
    place: tuple[str, str] | None
    naming: str
    distance: str
    lens: str
    mirror: str
    waits: str
    hint: str
    waiting: str
    listening: bool
    last: Last
    eyes: tuple[EyeView, ...]
    open: tuple[str, ...]
    findings: tuple[FindingRow, ...]
    """What was found beside the readings."""


def live_view(state: ExamState, notation: Notation | None = None) -> LiveView:
    """The live page of a state; acuity is written in `notation`, or as it was said."""
    meridian = state.eyes[state.eye].meridian_deg if state.eye else None
    waits = state_of(state)
    return LiveView(
        number=state.last_number,
        eye=state.eye,
        place=None if meridian is None else place(state, meridian),
        naming=state.naming,
        distance="not said" if state.distance_cm is None else written_cm(state.distance_cm),
        lens=lens_words(state.allowance),
        mirror=state.mirror,
        waits=waits.value,
        hint=HINTS[waits],
        waiting=waiting_words(state),
        listening=state.listening,
        last=_last(state),
        eyes=tuple(_eye(name, state) for name in EYES),
        open=tuple(_open(state)),
        findings=finding_rows(labelled_findings(state, notation)),
    )


def _eye(name: EyeName, state: ExamState) -> EyeView:
    eye = state.eyes[name]
    net = eye.solution.net
    return EyeView(
        name=name,
        now=state.eye == name,
        status=eye.status,
        condition=condition_words(eye),
        drawing=cross(eye, now=state.eye == name),
        meridians=tuple(_meridians(eye, state)),
        sphere=written_power(net.sphere_d) if net else "",
        cylinder=written_power(net.cylinder_d) if net and net.axis_deg is not None else "",
        axis=written_axis(net.axis_deg) if net and net.axis_deg is not None else "",
        equivalent=written_power(net.spherical_equivalent_d) if net else "",
        uncertainty=eye.uncertainty or "",
        estimate=estimate_words(eye),
        results=result_words(eye),
        passes=pass_rows(eye),
        problems=tuple(problem.text for problem in eye.problems),
    )


def _meridians(eye: EyeState, state: ExamState) -> Iterator[Meridian]:
    """Of each meridian what stands (the last neutral, or the last look), and what it took the place of, struck out."""
    neutral = {each.id for each in eye.neutral}
    settled = {each.meridian_deg for each in eye.neutral}
    shown = shown_readings(eye, state.allowance)
    last = {each.along: each.id for each in shown if not each.superseded}
    for reading, each in zip(eye.readings, shown, strict=True):
        open_look = reading.meridian_deg not in settled and last.get(each.along) == each.id
        if each.superseded or each.id in neutral or open_look:
            yield _meridian(each, place(state, reading.meridian_deg))


def _meridian(reading: ShownReading, named: tuple[str, str]) -> Meridian:
    return Meridian(
        named, reading.seen, reading.gross, reading.net, reading.taken, superseded=reading.superseded
    )


def _open(state: ExamState) -> Iterator[str]:
    """What stands between the exam and its results."""
    yield from still_missing(state)
    if state.distance_cm is None and not state.lens_in:
        yield "the working distance was not said"


def _last(state: ExamState) -> Last:
    line = next(
        (each for each in reversed(state.events) if isinstance(each, Line) and each.outcome != "ignored"),
        None,
    )
    if line is None:
        return Last(0, "none", Value("", ""), "", "")
    mark = _mark(line, state)
    done = {act.words for act in line.acts}
    text = "; ".join(reply for reply in line.replies if reply not in done)
    if mark == "contradicts" and not text:
        text = "; ".join(_contradictions(line, state))
    return Last(line.number, mark, _shown(line), text, line.source)


def _shown(line: Line) -> Value:
    """What was entered last by a line; where it only asks, what it asks about or what waits."""
    words = "; ".join(act.words for act in line.acts)
    if line.entries:
        return entered_value(line.entries[-1], words)
    if line.acts:
        return Value("", words)
    if line.question is not None and _asked_by(line) and line.question.candidate is not None:
        return said_value(line.question.candidate)
    return said_value(line.meanings[-1]) if line.meanings else Value("?", line.text)


def _asked_by(line: Line) -> bool:
    """Whether the question is the line's own; what waits behind one only repeats it."""
    return line.dialogue is not None and any(each.number == line.number for each in line.dialogue.questions)


def _contradictions(line: Line, state: ExamState) -> Iterator[str]:
    eyes = {entry.about for entry in line.entries}
    for name in EYES:
        if name in eyes and state.eyes[name].status == "conflict":
            yield from (f"{name} eye: {problem.text}" for problem in state.eyes[name].problems)


def _mark(line: Line, state: ExamState) -> Mark:
    if line.outcome == "ignored":
        return "left-out"
    if contradicts(line, state) or feedback(line, state, "off").signal is Signal.CONTRADICTION:
        return "contradicts"
    return _MARKS[line.outcome]


def rows(state: ExamState, after: int = 0) -> Iterator[Row]:
    """The rows of the lines from the event after `after` on."""
    for event in state.events:
        if isinstance(event, Line) and event.number > after:
            yield from _rows(state, event)


def _rows(state: ExamState, line: Line) -> Iterator[Row]:
    for index, each in enumerate(rows_of(state, line)):
        now = f"now {each.now}" if each.now else ""
        told = each.reply if index or each.outcome == "asked" or len(line.replies) > 1 else ""
        yield Row(
            id=each.id,
            number=line.number,
            at=f"{line.at.astimezone():%H:%M:%S}",
            moment=line.at.astimezone(UTC).isoformat(timespec="milliseconds"),
            mark=_MARKS[each.outcome],
            words=(line.text or "other talk") if index == 0 else "",
            note="; ".join(text for text in (told, now) if text),
            state=each.fate,
        )


def changed(state: ExamState) -> dict[str, Fate]:
    """The entries that no longer count as they were said: id to what became of them."""
    return changed_ids(state)


__all__ = [
    "MARK_WORDS",
    "EyeView",
    "Last",
    "LiveView",
    "Row",
    "changed",
    "live_view",
    "rows",
    "signed",
]
