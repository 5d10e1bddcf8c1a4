"""Which entry a correction means: in the eye and pass in hand, else it is asked."""

from collections.abc import Callable
from dataclasses import replace

from voicelog.exam.entries import (
    AdditionEntry,
    BaseFinding,
    Context,
    CylinderLens,
    DarkEntry,
    EstimateEntry,
    LensesEntry,
    PlaceEntry,
    PrescriptionEntry,
    ReadingEntry,
    WorkingLensEntry,
)
from voicelog.exam.entries.base import refuse
from voicelog.exam.ledger import Row
from voicelog.exam.questions import NeedsAnswer
from voicelog.exam.said_parts import NTH
from voicelog.exam.state import ExamState
from voicelog.optics import written_axis
from voicelog.phrases import meanings as say

WithLenses = ReadingEntry | LensesEntry
WithPower = (
    ReadingEntry
    | LensesEntry
    | WorkingLensEntry
    | AdditionEntry
    | DarkEntry
    | EstimateEntry
    | PrescriptionEntry
)


def target(state: ExamState, context: Context, matches: Callable[[Row], bool], what: str) -> Row:
    """The last row that matches in the eye and pass in hand; one from elsewhere only after a yes.

    Raises NeedsAnswer.
    """
    rows = [row for row in state.ledger.live if matches(row)]
    pinned = [row for row in rows if row.id == context.pinned]
    if pinned:
        return pinned[0]
    here = [row for row in rows if in_hand(state, row)]
    if here:
        return here[-1]
    if not rows:
        raise refuse(f"there is no {what} to correct")
    eye = f"the {state.eye} eye" if state.eye else "the eye in hand"
    text = f"{eye} has no {what} to correct: change {rows[-1].entry.words()}?"
    context.confirm("elsewhere", text, pinned=rows[-1].id)
    return rows[-1]


def in_hand(state: ExamState, row: Row) -> bool:
    """Whether an entry belongs to the eye and the pass in hand, or to no eye."""
    entry = row.entry
    if isinstance(entry, ReadingEntry):
        return entry.eye == state.eye and _is_of_pass(state, entry)
    if isinstance(entry, LensesEntry | PlaceEntry):
        return entry.eye == state.eye
    if isinstance(entry, BaseFinding):
        return entry.about in (None, "both", state.eye)
    return True


def _is_of_pass(state: ExamState, entry: ReadingEntry) -> bool:
    """Whether a look belongs to the pass in hand of its eye."""
    eye = state.eyes[entry.eye]
    return not eye.pass_opened and eye.in_hand.holds(entry)


def has_power(row: Row) -> bool:
    """Whether an entry has a power that a bare one could put right."""
    return isinstance(row.entry, WithPower) and not (
        isinstance(row.entry, WorkingLensEntry) and row.entry.power_d is None
    )


def has_cylinder(row: Row) -> bool:
    """Whether an entry has a cylinder."""
    return cylinder_of(row) is not None


def cylinder_of(row: Row) -> CylinderLens | None:
    """The cylinder of an entry."""
    match row.entry:
        case ReadingEntry(lenses=lenses) | LensesEntry(lenses=lenses) | DarkEntry(lenses=lenses):
            return lenses.cylinder
        case PrescriptionEntry(cylinder=cylinder):
            return cylinder
        case _:
            return None


def sphere_of(row: Row) -> float | None:
    """The sphere of an entry, dioptres."""
    match row.entry:
        case ReadingEntry(lenses=lenses) | LensesEntry(lenses=lenses) | DarkEntry(lenses=lenses):
            return lenses.sphere_d
        case PrescriptionEntry(sphere_d=sphere_d):
            return sphere_d
        case _:
            return None


def is_at(row: Row, meridian_deg: int) -> bool:
    """Whether an entry is a reading of that meridian."""
    return isinstance(row.entry, ReadingEntry) and row.entry.meridian_deg == meridian_deg


def bare_target(state: ExamState, context: Context, matches: Callable[[Row], bool], what: str) -> Row:
    """A bare correction means the last thing said; where that is elsewhere or did not go in, it is asked which.

    Raises NeedsAnswer.
    """
    last = state.ledger.last
    if context.pinned is None and last is not None and matches(last) and not in_hand(state, last):
        context.confirm("elsewhere", f"change {last.entry.words()}?", pinned=last.id)
    row = target(state, context, matches, what)
    if state.dialogue.dropped:
        text = f"the last entry did not go in: change {row.entry.words()}?"
        context.confirm("dropped", text, pinned=row.id)
    return row


def of_nth_meridian(state: ExamState, nth: int, eye: say.OneEye, context: Context) -> Row:
    """The last neutral look along the first or the second meridian of an eye's pass in hand, or its last look.

    Raises NeedsAnswer.
    """
    along: dict[int, list[Row]] = {}
    for row in state.ledger.live:
        if isinstance(row.entry, ReadingEntry) and row.entry.eye == eye and _is_of_pass(state, row.entry):
            along.setdefault(row.entry.meridian_deg, []).append(row)
    if len(along) < nth:
        raise refuse(f"no {NTH[nth]} meridian was read in this pass", context.meaning)
    rows = list(along.values())[nth - 1]
    return next((row for row in reversed(rows) if row.entry.motion == "neutral"), rows[-1])  # type: ignore[union-attr]


def reading_meant(state: ExamState, said: say.Reading, context: Context) -> Row:
    """The reading that is meant: of its place, with the same motion; with another motion only after a yes."""
    eye = context.eye(said.eye)

    def of_eye(row: Row) -> bool:
        return said.eye is None or row.entry.about == eye

    if said.where is None:
        return target(
            state, context, lambda each: isinstance(each.entry, ReadingEntry) and of_eye(each), "reading"
        )
    meridian_deg = context.meridian_deg(said.where, eye)
    motion = said.motion

    def moved(row: Row) -> str | None:
        there = is_at(row, meridian_deg) and of_eye(row)
        return row.entry.motion if there and isinstance(row.entry, ReadingEntry) else None

    named_before = [row for row in state.ledger.live if row.id == context.pinned]
    if named_before and "other_motion" in context.settled:
        return named_before[0]
    what = f"{motion} reading along {written_axis(meridian_deg)}"
    named = context if said.eye is None else in_named_eye(context)
    try:
        return target(state, named, lambda row: moved(row) == motion, what)
    except NeedsAnswer:
        of_place = [row for row in state.ledger.live if moved(row) not in (None, motion)]
        here = [row for row in of_place if said.eye is not None or in_hand(state, row)]
        if not here:
            raise
    text = f"{here[-1].entry.words()}: is it to be {motion} instead?"
    context.confirm("other_motion", text, pinned=here[-1].id)
    return here[-1]


def in_named_eye(context: Context) -> Context:
    """An eye that was named needs no yes for being looked at."""
    return replace(context, settled=(*context.settled, "elsewhere"))
