"""What is read from two metres: eye in hand, last value with its place, open question, both refractions, reference."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal

from voicelog.exam.entries import Entry, EyeEntry, LensesEntry, PlaceEntry, ReadingEntry
from voicelog.exam.events import Line
from voicelog.exam.eye_state import EyeState
from voicelog.exam.state import ExamState, EyeName
from voicelog.live.exchange_table import HINTS, state_of
from voicelog.page.brief import brief, clauses
from voicelog.page.values import entered_glance, place, said_glance
from voicelog.page.view import EyeView, Last, LiveView
from voicelog.phrases import meanings as say
from voicelog.record.inert import inert
from voicelog.screen.eyes import progress_words

Picture = Literal["entered", "asked", "contradicts", "answer", "none"]
_WORDS: Final[dict[Picture, str]] = {
    "entered": "entered",
    "asked": "asked",
    "contradicts": "contradicts",
    "answer": "answer",
    "none": "say: right eye",
}
_LETTERS: Final[dict[EyeName, str]] = {"right": "R", "left": "L"}


@dataclass(frozen=True, slots=True)
class FarLast:
    """What was said last: the picture of what became of it, its value and place.

    `clauses` is what else was said back; of them whole ones are left out where there is no room.
    """

    number: int
    picture: Picture
    word: str
    value: str
    place: str
    clauses: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FarEye:
    """One eye: `text` is its refraction, or how far it is (then `solved` is False)."""

    name: EyeName
    letter: str
    now: bool
    text: str
    solved: bool
    conflict: bool
    condition: str


@dataclass(frozen=True, slots=True)
class FarView:
    """The far view. `question` is what is open, `hint` what settles it, `waiting` how much waits behind it."""

    eye: EyeName | None
    reference: str
    last: FarLast
    question: str
    hint: str
    waiting: str
    eyes: tuple[FarEye, ...]


def far_view(state: ExamState, near: LiveView) -> FarView:
    """The far view of a state; `near` is the whole page's view of the same."""
    question = state.question
    waiting = len(state.dialogue.waiting)
    return FarView(
        eye=state.eye,
        reference=inert(state.reference, 60),
        last=_last(state, near.last),
        question="" if question is None else brief(question.text),
        hint="" if question is None else HINTS[state_of(state)],
        waiting=f"{waiting} wait{'s' if waiting == 1 else ''}" if waiting else "",
        eyes=tuple(_eye(each, state.eyes[each.name]) for each in near.eyes),
    )


def _last(state: ExamState, last: Last) -> FarLast:
    line = state.event(last.number)
    if not isinstance(line, Line) or last.mark in ("none", "left-out"):
        return FarLast(0, "none", _WORDS["none"], "", "", ())
    told = tuple(_told(state, line, last))
    if line.entries:
        entry = line.entries[-1]
        picture: Picture = "contradicts" if last.mark == "contradicts" else "entered"
        count = len(line.entries)
        word = _WORDS[picture] if count == 1 else f"{count} {_WORDS[picture]}"
        if last.mark == "asked":
            picture, word = "asked", _WORDS["asked"]
        return FarLast(line.number, picture, word, *_entered(state, entry), told)
    if last.mark in ("asked", "contradicts"):
        return FarLast(line.number, last.mark, _WORDS[last.mark], *_said(state, line), told)
    picture = "entered" if line.acts else "answer"
    return FarLast(line.number, picture, _WORDS[picture], "", "", told)


def _told(state: ExamState, line: Line, last: Last) -> Iterator[str]:
    """What was said back beside the last entry's own words and the open question, which stand elsewhere."""
    question = state.question
    own = line.entries[-1].words() if line.entries else ""
    for reply in line.replies or (last.text,):
        if question is not None and reply.endswith(question.text):
            continue
        if reply.startswith(own) and own:
            reply = reply.removeprefix(own).lstrip(",; ")
        yield from clauses(reply)


def _said(state: ExamState, line: Line) -> tuple[str, str]:
    """Value and place of what is asked about, as far as they were said."""
    question = state.question
    meaning = question.candidate if question is not None and question.candidate is not None else None
    if meaning is None:
        meaning = line.meanings[-1] if line.meanings else None
    if meaning is None:
        return ("", "")
    inner = meaning.entry if isinstance(meaning, say.Correction) else meaning
    where = getattr(inner, "where", None)
    return said_glance(meaning), _named(state, where) if isinstance(where, say.Where) else ""


def _named(state: ExamState, where: say.Where) -> str:
    if where.angle_deg is None:
        return f"{where.which} {where.names or state.naming}"
    return f"{where.names or state.naming} {where.angle_deg:03d}"


def _entered(state: ExamState, entry: Entry) -> tuple[str, str]:
    """The value of an entry, and its place or what it is, with its eye where that is not the one in hand."""
    about = entry.about
    eye = "" if about in (None, state.eye) else "R and L " if about == "both" else f"{_LETTERS[about]} "
    value, of = entered_glance(entry)
    match entry:
        case ReadingEntry(meridian_deg=meridian_deg):
            of = place(state, meridian_deg)[0]
        case PlaceEntry(meridian_deg=meridian_deg):
            value, of = place(state, meridian_deg)
        case LensesEntry():
            of = "in the frame"
        case EyeEntry():
            eye = ""
    return value, f"{eye}{of}".strip()


def _eye(near: EyeView, eye: EyeState) -> FarEye:
    lens = " ".join(text for text in (near.sphere, near.cylinder, near.axis and f"x {near.axis}") if text)
    wet = "wet" in eye.conditions or eye.condition == "wet"
    return FarEye(
        name=near.name,
        letter=_LETTERS[near.name],
        now=near.now,
        text=lens or progress_words(eye),
        solved=bool(lens),
        conflict=near.status == "conflict",
        condition=eye.result_condition if wet and lens else "",
    )
