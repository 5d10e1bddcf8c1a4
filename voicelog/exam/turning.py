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
from voicelog.exam.eye_state import EyeState
from voicelog.exam.ledger import Row
from voicelog.exam.questions import MERIDIANS, Stands
from voicelog.exam.state import ExamState
from voicelog.exam.targets import cylinder_of, in_hand
from voicelog.optics import axis_difference_deg, meridian_to_streak_deg, written_axis
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


def turned_meridians(state: ExamState, axis_deg: int, context: Context) -> Act:
    """Both meridians of the eye in hand along another axis, each by the smaller turn, after a yes that names them.

    They were called vertical and horizontal, and the axis was read off the band or the trial frame afterwards. All
    looks of the pass along them turn with them. Raises NeedsAnswer.
    """
    eye = None if state.eye is None else state.eyes[state.eye]
    if eye is None or len(eye.neutral) != 2 or any(each.lenses.cylinder for each in eye.neutral):
        raise refuse("there is no cylinder axis to correct")
    if not 1 <= axis_deg <= 180:
        raise refuse(f"axis {axis_deg} is not within 1 to 180: say it again", context.meaning)
    along = [each.meridian_deg for each in eye.neutral]
    was = " and ".join(map(written_axis, along))
    if axis_deg in along:
        raise Stands(f"the meridians are {was} already{_axis_then(eye, axis_deg, 0)}")
    turns = sorted((axis_difference_deg(axis_deg, each) for each in along), key=abs)
    if abs(turns[0]) == abs(turns[1]):
        raise refuse(f"axis {axis_deg} is halfway between the meridians {was}: say both readings again")
    turn_deg = round(turns[0])
    to = {each: (each + turn_deg - 1) % 180 + 1 for each in along}
    then = " and ".join(map(written_axis, to.values()))
    asked = f"the meridians along {then}, instead of {was}{_axis_then(eye, axis_deg, turn_deg)}?"
    context.confirm(MERIDIANS, asked)
    changes, told = [], []
    for row in state.ledger.live:
        entry = row.entry
        if isinstance(entry, ReadingEntry) and in_hand(state, row) and entry.meridian_deg in to:
            new = entry.with_changes(meridian_deg=to[entry.meridian_deg])
            changes.append(Replace(id=row.id, entry=new))
            if new.motion == "neutral":
                told.append(new.short_words())
    return Act(changes=tuple(changes), words=f"{state.eye} eye: {'; '.join(told)}, instead of along {was}")


def _axis_then(eye: EyeState, axis_deg: int, turn_deg: int) -> str:
    """That the axis of the result is the other meridian, where it is: streak and meridian may have been mixed up."""
    net = eye.solution.net
    if net is None or net.axis_deg is None:
        return ""
    result_deg = (round(net.axis_deg) + turn_deg - 1) % 180 + 1
    return "" if result_deg == axis_deg else f"; the result has axis {written_axis(result_deg)}"


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


def turned_places(state: ExamState, right_deg: int, wrong_deg: int, context: Context) -> Act | None:
    """ "I meant one thirty, not one twenty": all looks in hand that were named at the wrong angle, at the right one.

    None where there is none.
    """
    looks = [
        (row.id, with_place(row, say.Where(names=entry.named, angle=right_deg), context))
        for row in state.ledger.live
        if isinstance(entry := row.entry, ReadingEntry)
        and in_hand(state, row)
        and named_deg(entry) == wrong_deg
    ]
    if not looks:
        return None
    told = "; ".join(new.words() for _, new in looks)
    return Act(
        changes=tuple(Replace(id=name, entry=new) for name, new in looks),
        words=f"{told}, instead of {written_axis(wrong_deg)}",
    )


def named_deg(look: ReadingEntry) -> int:
    """The angle that a look was named by: the streak's, or the meridian's."""
    return int(meridian_to_streak_deg(look.meridian_deg)) if look.named == "streak" else look.meridian_deg


def with_place(row: Row, where: say.Where, context: Context) -> Entry:
    entry = row.entry
    if not isinstance(entry, ReadingEntry | PlaceEntry):
        raise refuse(f"{entry.words()} has no place", context.meaning)
    meridian_deg = context.meridian_deg(where, entry.eye)
    named = where.names or entry.named
    if isinstance(entry, ReadingEntry):
        return entry.put_right(context, meridian_deg=meridian_deg, named=named)
    return entry.with_changes(meridian_deg=meridian_deg, named=named)
