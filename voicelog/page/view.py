"""The live page's content, worked out from the exam's state: plain values that the templates only lay out."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC
from typing import Any, Final, Literal

from voicelog.exam.events import Said
from voicelog.exam.state import EYES, ExamState, EyeName, EyeState
from voicelog.exam.summary import summary
from voicelog.live.exchange_table import HINTS, state_of
from voicelog.live.feedback import feedback
from voicelog.optics import SpheroCylinder, round_power_d, written_axis, written_power
from voicelog.page.drawings import Cross, cross
from voicelog.page.values import Value, place, signed, value
from voicelog.speaking.tones import Signal

Mark = Literal["entered", "asked", "contradicts", "left-out", "none"]

MARK_WORDS: Final[Mapping[Mark, str]] = {
    "entered": "entered",
    "asked": "asked: answer",
    "contradicts": "contradicts",
    "left-out": "left out",
    "none": "nothing yet",
}
_KNOWN_OF_EYE: Final = frozenset(
    ("status", "readings", "net", "exact", "residual", "reflex", "lenses", "problems", "uncertainty")
)
_KNOWN_OF_EXAM: Final = frozenset(
    ("reference", "working_distance_cm", "working_lens", "mirror", "eye", "question")
)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the ledger."""

    number: int
    at: str
    moment: str
    """The same in full, ISO 8601 to the millisecond, UTC."""
    mark: Mark
    words: str
    note: str
    state: Literal["live", "corrected", "withdrawn"]


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
    """One reading as a line of numbers."""

    place: tuple[str, str]
    motion: str
    gross: str
    net: str


@dataclass(frozen=True, slots=True)
class EyeView:
    """One eye; `refraction` is empty while it is not determined."""

    name: EyeName
    now: bool
    status: str
    drawing: Cross
    meridians: tuple[Meridian, ...]
    sphere: str
    cylinder: str
    axis: str
    equivalent: str
    uncertainty: str
    problems: tuple[str, ...]
    others: tuple[tuple[str, str], ...]
    """Further findings, label and value."""


@dataclass(frozen=True, slots=True)
class LiveView:
    """The whole live page."""

    number: int
    eye: EyeName | None
    place: tuple[str, str] | None
    naming: str
    distance: str
    lens_in: bool
    concave: bool
    waits: str
    hint: str
    listening: bool
    last: Last
    eyes: tuple[EyeView, ...]
    open: tuple[str, ...]
    others: tuple[tuple[str, str], ...]


def live_view(state: ExamState) -> LiveView:
    """The live page of a state."""
    eyes = state.eyes
    data = summary(state)
    meridian = eyes[state.eye].meridian_deg if state.eye else None
    waits = state_of(state)
    return LiveView(
        number=len(state.events) - 1,
        eye=state.eye,
        place=None if meridian is None else place(state, meridian),
        naming=state.naming,
        distance=f"{state.distance_cm:g} cm" if state.distance_cm else "not said",
        lens_in=state.lens_in,
        concave=state.concave_mirror,
        waits=waits.value,
        hint=HINTS[waits],
        listening=state.listening and not state.in_note,
        last=_last(state),
        eyes=tuple(_eye(name, eyes[name], state, data["eyes"][name]) for name in EYES),
        open=tuple(_open(state, eyes)),
        others=tuple(others(data["exam"], _KNOWN_OF_EXAM)),
    )


def _eye(name: EyeName, eye: EyeState, state: ExamState, data: Mapping[str, Any]) -> EyeView:
    complete = eye.status in ("solved", "conflict")
    net = eye.solution.net if complete else None
    return EyeView(
        name=name,
        now=state.eye == name,
        status=eye.status,
        drawing=cross(eye, now=state.eye == name),
        meridians=tuple(_meridians(eye, state)),
        sphere=written_power(net.sphere_d) if net else "",
        cylinder=written_power(net.cylinder_d) if net and net.axis_deg is not None else "",
        axis=written_axis(net.axis_deg) if net and net.axis_deg is not None else "",
        equivalent=written_power(net.spherical_equivalent_d) if net else "",
        uncertainty=eye.uncertainty or "",
        problems=tuple(problem.text for problem in eye.problems),
        # With one pass the result is the refraction that stands there already.
        others=(
            *_reflexes(eye, state),
            *others(data, _KNOWN_OF_EYE | ({"result"} if not data.get("passes") else set())),
        ),
    )


def _meridians(eye: EyeState, state: ExamState) -> Iterator[Meridian]:
    """The latest reading of each meridian, in the order in which they were begun."""
    latest = {each.meridian_deg: each for each in eye.readings}
    for each in latest.values():
        known = each.net_d is not None and each.motion == "neutral"
        net = written_power(round_power_d(each.net_d or 0.0)) if known else ""
        yield Meridian(place(state, each.meridian_deg), each.motion, written_power(each.gross_d), net)


def _reflexes(eye: EyeState, state: ExamState) -> Iterator[tuple[str, str]]:
    for reflex, meridian in eye.reflexes:
        yield "reflex", reflex + (f" at {place(state, meridian)[0]}" if meridian else "")


def _open(state: ExamState, eyes: Mapping[EyeName, EyeState]) -> Iterator[str]:
    """What stands between the exam and a result for both eyes."""
    for name in EYES:
        if eyes[name].status == "empty":
            yield f"{name} eye: nothing read yet"
        else:
            yield from (f"{name} eye: {problem.text}" for problem in eyes[name].problems)
    if state.distance_cm is None and not state.lens_in:
        yield "the working distance was not said"


def others(data: Mapping[str, Any], known: frozenset[str]) -> Iterator[tuple[str, str]]:
    """Findings that have no place of their own on the page, as label and value; what is empty is left out."""
    for name, found in data.items():
        text = _plain(found)
        if name not in known and text and (name, found) != ("pass", 1):
            yield name.replace("_", " "), text


def _plain(found: Any) -> str:
    # A zero is a finding; a False and whatever is empty are none.
    if found is False or (not found and not isinstance(found, int | float)):
        return ""
    match found:
        case True:
            return "yes"
        case float():
            return f"{found:g}"
        case {"sphere": float() | int() as sphere, "cylinder": cylinder, "axis": axis}:
            return str(SpheroCylinder(sphere, cylinder or 0.0, axis))
        case dict():
            parts = ((key.replace("_", " "), _plain(each)) for key, each in found.items())
            return ", ".join(f"{key} {text}" for key, text in parts if text)
        case list() | tuple():
            return "; ".join(text for text in map(_plain, found) if text)
        case _:
            return str(found)


def _last(state: ExamState) -> Last:
    said = next(
        (each for each in reversed(state.events) if isinstance(each, Said) and each.outcome != "ignored"),
        None,
    )
    if said is None:
        return Last(0, "none", Value("", ""), "", "")
    meaning = said.entry or (said.question.candidate if said.question else None) or said.meaning
    shown = value(meaning) if meaning is not None else Value("?", said.text)
    mark = _mark(said, state)
    text = said.reply if said.entry is None else ""
    if mark == "contradicts" and not text and state.eye:
        text = "; ".join(problem.text for problem in state.eyes[state.eye].problems)
    return Last(said.number, mark, shown, text, said.source)


def _mark(said: Said, state: ExamState) -> Mark:
    if said.outcome == "ignored":
        return "left-out"
    if feedback(said, state, "off").signal is Signal.CONTRADICTION:
        return "contradicts"
    return "entered" if said.outcome == "accepted" else "asked"


def rows(state: ExamState, after: int = 0) -> Iterator[Row]:
    """The ledger's lines from the event after `after` on."""
    states = {line.number: line.state for line in state.ledger.lines}
    for event in state.events[after + 1 :]:
        if isinstance(event, Said):
            outcome: dict[str, Mark] = {"accepted": "entered", "asked": "asked", "ignored": "left-out"}
            yield Row(
                number=event.number,
                at=f"{event.at.astimezone():%H:%M:%S}",
                moment=event.at.astimezone(UTC).isoformat(timespec="milliseconds"),
                mark=outcome[event.outcome],
                words=event.text or "other talk",
                note=event.reply if event.outcome == "asked" else "",
                state=states.get(event.number, "live"),
            )


def changed(state: ExamState) -> dict[int, str]:
    """The lines that no longer count as they were said: number to "corrected" or "withdrawn"."""
    return {line.number: line.state for line in state.ledger.lines if line.state != "live"}


__all__ = [
    "MARK_WORDS",
    "EyeView",
    "Last",
    "LiveView",
    "Row",
    "changed",
    "live_view",
    "others",
    "rows",
    "signed",
]
