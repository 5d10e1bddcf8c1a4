"""Which entry a correction means: in the eye and pass in hand, else it is asked."""

from collections.abc import Callable

from voicelog.exam.entries import (
    AdditionEntry,
    BaseFinding,
    Context,
    CylinderLens,
    DarkEntry,
    EstimateEntry,
    LensesEntry,
    PlaceEntry,
    ReadingEntry,
    SpectaclesEntry,
    SubjectiveEntry,
    WorkingLensEntry,
)
from voicelog.exam.entries.base import refuse
from voicelog.exam.ledger import Row
from voicelog.exam.state import ExamState

WithLenses = ReadingEntry | LensesEntry
WithPower = (
    ReadingEntry
    | LensesEntry
    | WorkingLensEntry
    | AdditionEntry
    | DarkEntry
    | EstimateEntry
    | SubjectiveEntry
    | SpectaclesEntry
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
        eye = state.eyes[entry.eye]
        return entry.eye == state.eye and not eye.pass_opened and entry.pass_number == eye.pass_number
    if isinstance(entry, LensesEntry | PlaceEntry):
        return entry.eye == state.eye
    if isinstance(entry, BaseFinding):
        return entry.about in (None, "both", state.eye)
    return True


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
        case SubjectiveEntry(cylinder=cylinder) | SpectaclesEntry(cylinder=cylinder):
            return cylinder
        case _:
            return None


def sphere_of(row: Row) -> float | None:
    """The sphere of an entry, dioptres."""
    match row.entry:
        case ReadingEntry(lenses=lenses) | LensesEntry(lenses=lenses) | DarkEntry(lenses=lenses):
            return lenses.sphere_d
        case SubjectiveEntry(sphere_d=sphere_d) | SpectaclesEntry(sphere_d=sphere_d):
            return sphere_d
        case _:
            return None


def is_at(row: Row, meridian_deg: int) -> bool:
    """Whether an entry is a reading of that meridian."""
    return isinstance(row.entry, ReadingEntry) and row.entry.meridian_deg == meridian_deg
