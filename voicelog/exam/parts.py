"""The powers of an entry by their parts: which it names, which it holds, and the entry with another one."""

from voicelog.exam.entries import (
    AdditionEntry,
    Context,
    CylinderLens,
    DarkEntry,
    Entry,
    EstimateEntry,
    LensesEntry,
    PrescriptionEntry,
    ReadingEntry,
    TrialLenses,
    WorkingLensEntry,
    exact_d,
)
from voicelog.exam.entries.base import refuse
from voicelog.exam.entries.limits import check_cylinder, check_power
from voicelog.exam.ledger import Row
from voicelog.exam.targets import cylinder_of, sphere_of
from voicelog.optics import written_power
from voicelog.phrases import meanings as say

_SAME_D = 1e-6


def spoken(power: say.Power) -> str:
    return written_power(power.dioptres) if power.dioptres is not None else f"{power.size_d or 0:.2f}"


def holding(row: Row, power: say.Power) -> list[str]:
    """The parts of an entry that have that power; said without a sign, by its size."""
    return [part for part, value_d in parts_of(row).items() if _is(value_d, power)]


def _is(value_d: float, power: say.Power) -> bool:
    if power.size_d is None:
        return False
    if power.dioptres is None:
        return abs(abs(value_d) - power.size_d) < _SAME_D
    return abs(value_d - exact_d(power)) < _SAME_D


def parts_of(row: Row) -> dict[str, float]:
    """The powers of an entry by the names of its parts."""
    entry = row.entry
    if isinstance(entry, AdditionEntry | EstimateEntry):
        return {"power": entry.power_d}
    if isinstance(entry, WorkingLensEntry):
        return {} if entry.power_d is None else {"power": entry.power_d}
    cylinder, sphere_d = cylinder_of(row), sphere_of(row)
    found = {} if sphere_d is None else {"sphere": sphere_d}
    return found if cylinder is None else found | {"cylinder": cylinder.power_d}


def named_parts(row: Row) -> list[str]:
    """The parts that the entry itself names; of lenses that all stayed, those that there are."""
    entry = row.entry
    found = list(parts_of(row))
    if isinstance(entry, ReadingEntry | LensesEntry):
        stayed = {"sphere": entry.sphere_from, "cylinder": entry.cylinder_from}
        named = [part for part in found if stayed.get(part) is None]
        # A look through lenses that all stayed means them; lenses where nothing is named took the cylinder out.
        return named or (found if isinstance(entry, ReadingEntry) else ["sphere", "cylinder"])
    return found


def _only_part(row: Row) -> str:
    parts = named_parts(row)
    if len(parts) > 1:
        raise refuse(f"{row.entry.words()}: say correction sphere or correction cylinder, then the power")
    return parts[0] if parts else "sphere"


def only_power_d(row: Row) -> float:
    found = parts_of(row)
    part = _only_part(row)
    if part not in found:
        raise refuse(f"{row.entry.words()}: there is no power in it")
    return found[part]


def with_power(row: Row, power_d: float, context: Context) -> Entry:
    """The entry with another power in its only part. Raises NeedsAnswer where there are two."""
    return with_part(row, _only_part(row), power_d, context)


def with_part(row: Row, part: str, power_d: float, context: Context) -> Entry:
    entry = row.entry
    match entry:
        case AdditionEntry():
            return entry.corrected(say.Addition(power=_said(power_d)), context)
        case EstimateEntry():
            return entry.corrected(say.Estimate(power=_said(power_d)), context)
        case WorkingLensEntry():
            return entry.corrected(say.WorkingLens(position=entry.position, power=_said(power_d)), context)
        case ReadingEntry() | LensesEntry():
            return entry.with_changes(
                lenses=_lenses_with(entry.lenses, part, power_d, context), **{f"{part}_from": None}
            )
        case DarkEntry():
            return entry.with_changes(lenses=_lenses_with(entry.lenses, part, power_d, context))
        case PrescriptionEntry():
            before = TrialLenses(sphere_d=entry.sphere_d, cylinder=entry.cylinder)
            after = _lenses_with(before, part, power_d, context)
            return entry.with_changes(sphere_d=after.sphere_d, cylinder=after.cylinder)
        case _:
            raise refuse(f"{entry.words()}: there is no power in it")


def _said(power_d: float) -> say.Power:
    return say.Power(size_d=abs(power_d), sign=None if power_d == 0 else 1 if power_d > 0 else -1)


def _lenses_with(before: TrialLenses, part: str, power_d: float, context: Context) -> TrialLenses:
    if part == "sphere":
        return before.with_sphere(check_power(power_d, context.meaning))
    if power_d == 0:
        return before.with_cylinder(None)
    if before.cylinder is None:
        raise refuse("there is no cylinder in that entry; say it with its axis", context.meaning)
    check_cylinder(power_d, context.meaning)
    return before.with_cylinder(CylinderLens(power_d=power_d, axis_deg=before.cylinder.axis_deg))
