"""An entry with another axis, or in another place. Only what was named changes, and what follows from it."""

from dataclasses import replace

from voicelog.exam.dependants import is_of_pair, replaced
from voicelog.exam.entries import (
    AXIS_OFF_STREAK,
    Context,
    CylinderLens,
    DarkEntry,
    Entry,
    LensesEntry,
    PlaceEntry,
    ReadingEntry,
)
from voicelog.exam.entries.base import refuse
from voicelog.exam.events import Act, Replace
from voicelog.exam.ledger import Row
from voicelog.exam.questions import Stands
from voicelog.exam.state import ExamState
from voicelog.exam.targets import cylinder_of
from voicelog.optics import written_axis
from voicelog.phrases import meanings as say


def turned(state: ExamState, row: Row, axis_deg: int, wrong_deg: int | None, context: Context) -> Act:
    """Another axis. Of a lens that was neutral all round, the meridians were named by the axis: they turn with it."""
    cylinder = cylinder_of(row)
    if cylinder is not None and cylinder.axis_deg == axis_deg:
        raise Stands(f"{row.entry.words()} has axis {written_axis(axis_deg)}")
    entry = row.entry
    if not isinstance(entry, ReadingEntry) or not entry.all_round or cylinder is None:
        return replaced(state, row, _with_axis(row, axis_deg, wrong_deg, context))
    pair = [each for each in state.ledger.live if is_of_pair(each, entry)]
    turned = replace(context, settled=(*context.settled, AXIS_OFF_STREAK))
    changes, told = [], []
    for each in pair:
        new = _with_axis(each, axis_deg, wrong_deg, turned)
        if isinstance(new, ReadingEntry):
            meridian_deg = (new.meridian_deg + axis_deg - cylinder.axis_deg - 1) % 180 + 1
            new = new.with_changes(meridian_deg=meridian_deg, cylinder_from=_stayed(each))
        changes.append(Replace(id=each.id, entry=new))
        told.append(new.words())
    return Act(
        changes=tuple(changes), words=f"{'; '.join(told)}, instead of axis {written_axis(cylinder.axis_deg)}"
    )


def _stayed(row: Row) -> str | None:
    return row.entry.cylinder_from if isinstance(row.entry, ReadingEntry) else None


def _with_axis(row: Row, axis_deg: int, wrong_deg: int | None, context: Context) -> Entry:
    cylinder = cylinder_of(row)
    if cylinder is None:
        raise refuse(f"{row.entry.words()} has no cylinder axis", context.meaning)
    if wrong_deg is not None and cylinder.axis_deg != wrong_deg:
        raise refuse(
            f"{row.entry.words()} does not hold axis {wrong_deg}: say the whole entry", context.meaning
        )
    if not 1 <= axis_deg <= 180:
        raise refuse(f"axis {axis_deg} is not within 1 to 180: say it again", context.meaning)
    turned = CylinderLens(power_d=cylinder.power_d, axis_deg=axis_deg)
    entry = row.entry
    if isinstance(entry, ReadingEntry):
        return entry.put_right(context, lenses=entry.lenses.with_cylinder(turned), cylinder_from=None)
    if isinstance(entry, LensesEntry):
        return entry.with_changes(lenses=entry.lenses.with_cylinder(turned), cylinder_from=None)
    if isinstance(entry, DarkEntry):
        return entry.with_changes(lenses=entry.lenses.with_cylinder(turned))
    return entry.with_changes(cylinder=turned)


def with_place(row: Row, where: say.Where, context: Context) -> Entry:
    entry = row.entry
    if not isinstance(entry, ReadingEntry | PlaceEntry):
        raise refuse(f"{entry.words()} has no place", context.meaning)
    meridian_deg = context.meridian_deg(where, entry.eye)
    named = where.names or entry.named
    if isinstance(entry, ReadingEntry):
        return entry.put_right(context, meridian_deg=meridian_deg, named=named)
    return entry.with_changes(meridian_deg=meridian_deg, named=named)
