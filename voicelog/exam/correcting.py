"""Corrections: which entry is to be what. Only what is named changes; what follows from it is named in the reply."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from voicelog.exam.dependants import instead_of, replaced
from voicelog.exam.entering import readings_of, with_allowance
from voicelog.exam.entries import (
    AXIS_OFF_STREAK,
    AdditionEntry,
    BaseFinding,
    Context,
    CylinderLens,
    DarkEntry,
    DistanceEntry,
    Entry,
    EstimateEntry,
    LensesEntry,
    PlaceEntry,
    ReadingEntry,
    SpectaclesEntry,
    SubjectiveEntry,
    TrialLenses,
    WorkingLensEntry,
    exact_d,
)
from voicelog.exam.entries.base import refuse
from voicelog.exam.entries.limits import check_cylinder, check_power
from voicelog.exam.events import Act, Change, Put, Replace
from voicelog.exam.ledger import Row
from voicelog.exam.moving import move
from voicelog.exam.questions import NeedsAnswer, Stands
from voicelog.exam.scope import eyes_meant
from voicelog.exam.state import ExamState
from voicelog.exam.targets import cylinder_of, has_cylinder, has_power, in_hand, is_at, sphere_of, target
from voicelog.optics import written_axis, written_power
from voicelog.phrases import meanings as say

_SAME_D = 1e-6


def correct(state: ExamState, meaning: say.Correction, context: Context, name: str) -> Act:
    """The act of a correction. Raises NeedsAnswer."""
    said = meaning.entry
    if meaning.eye is not None:
        return _correct_in(context.eye(meaning.eye), state, meaning, context, name)
    if meaning.wrong is not None and isinstance(said, say.LoosePower):
        return exchange(state, meaning.wrong, said.power, context)
    if isinstance(said, say.LooseSign | say.LoosePower):
        return _of_last_power(state, meaning, said, context)
    match said:
        case say.Reading():
            row = _reading(state, said, context)
            return _put_right(state, row, said, context, meaning.wrong)
        case say.Lenses(remove="cylinder"):
            row = target(state, context, _has_trial_cylinder, "cylinder")
            return _lenses(state, row, said, context)
        case say.Lenses():
            row = target(
                state, context, lambda each: isinstance(each.entry, ReadingEntry | LensesEntry), "lens"
            )
            return _lenses(state, row, said, context)
        case say.LooseAxis(axis_deg=axis):
            return _axis(state, axis, meaning.wrong_axis_deg, context, name)
        case say.LooseWhere(where=where):
            row = _bare_target(state, context, _has_place, "reading")
            return replaced(state, row, _with_place(row, where, context))
        case say.WorkingDistance():
            return _distance(state, said, context, name)
        case say.WorkingLens():
            return _working_lens(state, said, context)
        case say.Eye(eye=eye):
            return move(state, say.Move(eye=eye, scope="all"), context, name)
        case _:
            return _finding(state, said, context)


def _is_axis_of_last(state: ExamState, axis_deg: int, wrong_deg: int) -> bool:
    """Whether the last cylinder has one of the two as its axis."""
    rows = [row for row in state.ledger.live if has_cylinder(row)]
    cylinder = cylinder_of(rows[-1]) if rows else None
    return cylinder is not None and cylinder.axis_deg in (axis_deg, wrong_deg)


def _bare_number(state: ExamState, right: int, wrong: int, context: Context, name: str) -> Act:
    """ "I said fifteen, not fifty": the number that is one of the two, where it is no axis. Raises NeedsAnswer."""
    distance_cm = state.distance_cm
    if distance_cm == right:
        raise Stands(f"working distance {right} cm stands")
    if distance_cm == wrong:
        context.confirm("which_number", f"working distance {right} cm, instead of {wrong} cm?")
        return _distance(state, say.WorkingDistance(distance=right), context, name)
    rows = [row for row in state.ledger.live if _holding(row, say.Power(size_d=wrong, sign=None))]
    if not rows:
        raise refuse(f"there is no {wrong} to put right: say which entry", context.meaning)
    (part,) = _holding(rows[-1], say.Power(size_d=wrong, sign=None))
    right_d = float(right if _parts(rows[-1])[part] > 0 else -right)
    context.confirm("which_number", f"change {rows[-1].entry.words()} to {written_power(right_d)}?")
    return replaced(state, rows[-1], _with_part(rows[-1], part, right_d, context))


def _of_last_power(
    state: ExamState, meaning: say.Correction, said: say.LooseSign | say.LoosePower, context: Context
) -> Act:
    """ "No, minus", "no, plus two": the last power; a sign also of several."""
    if isinstance(said, say.LooseSign) and meaning.count > 1:
        return change_signs(state, meaning, said.sign, context)
    row = _bare_target(state, context, has_power, "power")
    if isinstance(said, say.LoosePower):
        return replaced(state, row, with_power(row, exact_d(said.power), context))
    size_d = abs(_only_power_d(row))
    return replaced(state, row, with_power(row, size_d if said.sign == "plus" else -size_d, context))


def _axis(state: ExamState, axis_deg: int, wrong_deg: int | None, context: Context, name: str) -> Act:
    if wrong_deg is not None and not _is_axis_of_last(state, axis_deg, wrong_deg):
        return _bare_number(state, axis_deg, wrong_deg, context, name)
    row = _bare_target(state, context, has_cylinder, "cylinder axis")
    return _turned(state, row, axis_deg, wrong_deg, context)


def _correct_in(
    eye: say.OneEye, state: ExamState, meaning: say.Correction, context: Context, name: str
) -> Act:
    """A correction of an eye that was named: of the last thing there that can be meant. Raises NeedsAnswer."""
    if isinstance(meaning.entry, say.LooseSign) and meaning.all_of_eye:
        return change_signs(state, meaning, meaning.entry.sign, context)
    there = [row for row in state.ledger.live if row.entry.about == eye]
    fitting = _FITTING.get(type(meaning.entry))
    if fitting is None:
        said = meaning.entry
        named = said.model_copy(update={"eye": eye}) if "eye" in type(said).model_fields else said
        return correct(state, meaning.model_copy(update={"eye": None, "entry": named}), context, name)
    rows = [row for row in there if fitting(row)]
    if not rows:
        raise refuse(f"the {eye} eye has nothing of that kind to correct", meaning)
    pinned = replace(context, pinned=context.pinned or rows[-1].id, settled=(*context.settled, "dropped"))
    return correct(state, meaning.model_copy(update={"eye": None}), pinned, name)


def _has_place(row: Row) -> bool:
    return isinstance(row.entry, ReadingEntry | PlaceEntry)


_FITTING: Mapping[type[say.Model], Callable[[Row], bool]] = {
    say.LoosePower: has_power,
    say.LooseSign: has_power,
    say.LooseAxis: has_cylinder,
    say.LooseWhere: _has_place,
}
"""Which entries a bare part can put right."""


def _bare_target(state: ExamState, context: Context, matches: Callable[[Row], bool], what: str) -> Row:
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


def _has_trial_cylinder(row: Row) -> bool:
    return isinstance(row.entry, ReadingEntry | LensesEntry) and has_cylinder(row)


def change(state: ExamState, meaning: say.Change, context: Context) -> Act:
    """One logged meridian gets another power. Raises NeedsAnswer."""
    reading = say.Reading(where=meaning.where, motion="neutral", eye=meaning.eye)
    row = _reading(state, reading, context)
    power = meaning.power
    if meaning.wrong is not None:
        held = [_parts(row)[part] for part in _holding(row, meaning.wrong)]
        if not held:
            raise refuse(
                f"{row.entry.words()} does not hold {_spoken(meaning.wrong)}: say the whole reading", meaning
            )
        if power.sign is None and power.size_d:
            power = power.with_sign(1 if held[0] > 0 else -1)  # both were said without the sign that it has
    return replaced(state, row, with_power(row, exact_d(power), context))


def change_signs(state: ExamState, meaning: say.Correction, sign: str, context: Context) -> Act:
    """Several powers of an eye get another sign, after a yes that names each. Raises NeedsAnswer."""
    eye = context.eye(meaning.eye)
    rows = [row for row in state.ledger.live if row.entry.about == eye and _is_read(state, row)]
    rows = rows if meaning.all_of_eye else rows[-meaning.count :]
    if not rows or any(len(_named_parts(row)) > 1 for row in rows):
        raise refuse(f"the {eye} eye has no readings with one power each: say each of them", meaning)
    changes: dict[str, Replace] = {}
    told = []
    for row in rows:
        size_d = abs(_only_power_d(row))
        new = with_power(row, size_d if sign == "plus" else -size_d, context)
        act = replaced(state, row, new)
        changes |= {each.id: each for each in act.changes if isinstance(each, Replace)}
        told.append(act.words)
    words = "; ".join(told)
    context.confirm("signs", f"change to {sign}: {words}?")
    return Act(changes=tuple(changes.values()), words=words)


def _is_read(state: ExamState, row: Row) -> bool:
    """Whether it is a reading of the last pass of its eye that names its lens."""
    entry = row.entry
    return (
        isinstance(entry, ReadingEntry)
        and entry.pass_number == state.eyes[entry.eye].pass_number
        and entry.sphere_from is None
    )


def exchange(state: ExamState, wrong: say.Power, right: say.Power, context: Context) -> Act:
    """The power `wrong` is to be `right`, in the last entry that holds it once. Raises NeedsAnswer."""
    row = _bare_target(
        state, context, lambda each: len(_holding(each, wrong)) == 1, f"entry with {_spoken(wrong)} once"
    )
    (part,) = _holding(row, wrong)
    return replaced(state, row, _with_part(row, part, exact_d(right), context))


def _spoken(power: say.Power) -> str:
    return written_power(power.dioptres) if power.dioptres is not None else f"{power.size_d or 0:.2f}"


def _holding(row: Row, power: say.Power) -> list[str]:
    """The parts of an entry that have that power; said without a sign, by its size."""
    return [part for part, value_d in _parts(row).items() if _is(value_d, power)]


def _is(value_d: float, power: say.Power) -> bool:
    if power.size_d is None:
        return False
    if power.dioptres is None:
        return abs(abs(value_d) - power.size_d) < _SAME_D
    return abs(value_d - exact_d(power)) < _SAME_D


def _parts(row: Row) -> dict[str, float]:
    """The powers of an entry by the names of its parts."""
    entry = row.entry
    if isinstance(entry, AdditionEntry | EstimateEntry):
        return {"power": entry.power_d}
    if isinstance(entry, WorkingLensEntry):
        return {} if entry.power_d is None else {"power": entry.power_d}
    cylinder, sphere_d = cylinder_of(row), sphere_of(row)
    found = {} if sphere_d is None else {"sphere": sphere_d}
    return found if cylinder is None else found | {"cylinder": cylinder.power_d}


def _named_parts(row: Row) -> list[str]:
    """The parts that the entry itself names; of lenses that all stayed, those that there are."""
    entry = row.entry
    found = list(_parts(row))
    if isinstance(entry, ReadingEntry | LensesEntry):
        stayed = {"sphere": entry.sphere_from, "cylinder": entry.cylinder_from}
        named = [part for part in found if stayed.get(part) is None]
        # A look through lenses that all stayed means them; lenses where nothing is named took the cylinder out.
        return named or (found if isinstance(entry, ReadingEntry) else ["sphere", "cylinder"])
    return found


def _only_part(row: Row) -> str:
    parts = _named_parts(row)
    if len(parts) > 1:
        raise refuse(f"{row.entry.words()}: say correction sphere or correction cylinder, then the power")
    return parts[0] if parts else "sphere"


def _only_power_d(row: Row) -> float:
    found = _parts(row)
    part = _only_part(row)
    if part not in found:
        raise refuse(f"{row.entry.words()}: there is no power in it")
    return found[part]


def with_power(row: Row, power_d: float, context: Context) -> Entry:
    """The entry with another power in its only part. Raises NeedsAnswer where there are two."""
    return _with_part(row, _only_part(row), power_d, context)


def _with_part(row: Row, part: str, power_d: float, context: Context) -> Entry:
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
        case SubjectiveEntry() | SpectaclesEntry():
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


def _reading(state: ExamState, said: say.Reading, context: Context) -> Row:
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
    named = context if said.eye is None else _in_named_eye(context)
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


def _in_named_eye(context: Context) -> Context:
    """An eye that was named needs no yes for being looked at."""
    return replace(context, settled=(*context.settled, "elsewhere"))


def _put_right(
    state: ExamState, row: Row, said: say.Reading, context: Context, wrong: say.Power | None
) -> Act:
    entry = row.entry
    if not isinstance(entry, ReadingEntry):
        raise refuse(f"{entry.words()} is no reading", context.meaning)
    if wrong is not None and not _holding(row, wrong):
        raise refuse(
            f"{entry.words()} does not hold {_spoken(wrong)}: say the whole reading", context.meaning
        )
    return replaced(state, row, entry.corrected(said, context))


def _lenses(state: ExamState, row: Row, said: say.Lenses, context: Context) -> Act:
    entry = row.entry
    if isinstance(entry, LensesEntry):
        return replaced(state, row, entry.corrected(said, context))
    if not isinstance(entry, ReadingEntry):
        raise refuse(f"{entry.words()} has no lenses", context.meaning)
    if said.remove is None:
        return replaced(
            state, row, entry.corrected(say.Reading(motion=entry.motion, lens=said.lens), context)
        )
    after = TrialLenses() if said.remove == "all" else entry.lenses.with_cylinder(None)
    if after.empty:
        raise refuse(
            f"{entry.words()}: nothing would be in the frame; scratch it, or say the lens", context.meaning
        )
    return replaced(state, row, entry.with_changes(lenses=after, cylinder_from=None))


def _turned(state: ExamState, row: Row, axis_deg: int, wrong_deg: int | None, context: Context) -> Act:
    """Another axis. Of a lens that was neutral all round, the meridians were named by the axis: they turn with it."""
    cylinder = cylinder_of(row)
    if cylinder is not None and cylinder.axis_deg == axis_deg:
        raise Stands(f"{row.entry.words()} has axis {written_axis(axis_deg)}")
    entry = row.entry
    if not isinstance(entry, ReadingEntry) or not entry.all_round or cylinder is None:
        return replaced(state, row, _with_axis(row, axis_deg, wrong_deg, context))
    pair = [each for each in state.ledger.live if _is_of_pair(each, entry)]
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


def _is_of_pair(row: Row, entry: ReadingEntry) -> bool:
    other = row.entry
    return (
        isinstance(other, ReadingEntry)
        and other.all_round
        and (other.eye, other.pass_number, other.lenses) == (entry.eye, entry.pass_number, entry.lenses)
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


def _with_place(row: Row, where: say.Where, context: Context) -> Entry:
    entry = row.entry
    if not isinstance(entry, ReadingEntry | PlaceEntry):
        raise refuse(f"{entry.words()} has no place", context.meaning)
    meridian_deg = context.meridian_deg(where, entry.eye)
    named = where.names or entry.named
    if isinstance(entry, ReadingEntry):
        return entry.put_right(context, meridian_deg=meridian_deg, named=named)
    return entry.with_changes(meridian_deg=meridian_deg, named=named)


def _distance(state: ExamState, said: say.WorkingDistance, context: Context, name: str) -> Act:
    """The distance was misheard: it changes with the readings that were taken from it."""
    rows = [row for row in state.ledger.live if isinstance(row.entry, DistanceEntry)]
    if not rows and state.distance_cm is None:
        raise refuse("there is no working distance to correct")
    new = DistanceEntry.from_meaning(said, context)
    taken_from = rows[-1].id if rows else None
    taken = [
        each
        for each in readings_of(state)
        if each.entry.distance_from == taken_from and each.distance_cm is not None
    ]
    eyes = tuple(dict.fromkeys(each.entry.eye for each in taken))
    meant = eyes_meant(
        state, said.eye, context=context, what=f"working distance {new.distance_cm:g} cm", among=eyes
    )
    whole = bool(rows) and set(eyes) <= set(meant)
    said_by = taken_from if whole else name
    changes: list[Change] = [Replace(id=rows[-1].id, entry=new) if whole else Put(id=name, entry=new)]
    for each in taken:
        if each.entry.eye in meant:
            allowance = each.allowance.model_copy(update={"distance_cm": new.distance_cm})
            changes.append(with_allowance(each, allowance, said_by))
    return Act(changes=tuple(changes), words=_distance_words(new, state, len(changes) - 1, meant))


def _distance_words(new: DistanceEntry, state: ExamState, readings: int, eyes: tuple[say.OneEye, ...]) -> str:
    before = f", instead of {state.distance_cm:g} cm" if state.distance_cm is not None else ""
    if not readings:
        return f"{new.words()}{before}"
    counted = "1 reading" if readings == 1 else f"{readings} readings"
    return f"{new.words()}{before}, with {counted} of the {' and '.join(eyes)} eye"


def _working_lens(state: ExamState, said: say.WorkingLens, context: Context) -> Act:
    """The lens was misheard: it changes with the readings that were taken through it."""
    row = target(
        state, context, lambda each: isinstance(each.entry, WorkingLensEntry), "working distance lens"
    )
    entry = row.entry
    if not isinstance(entry, WorkingLensEntry):
        raise refuse(f"{entry.words()} is no working distance lens")
    new = entry.corrected(said, context)
    changes: list[Change] = [Replace(id=row.id, entry=new)]
    for taken in readings_of(state):
        if _entered_later(state, taken.id, row.id) and taken.allowance.lens_in == (entry.position == "in"):
            allowance = new.allowance(taken.allowance)
            if allowance != taken.allowance:
                changes.append(with_allowance(taken, allowance, taken.entry.distance_from))
    words = f"{new.words()}, instead of {entry.words()}"
    if len(changes) > 1:
        words += f", with {len(changes) - 1} reading{'s' if len(changes) > 2 else ''}"
    return Act(changes=tuple(changes), words=words)


def _entered_later(state: ExamState, name: str, than: str) -> bool:
    order = list(state.ledger.rows)
    return order.index(name) > order.index(than)


def _finding(state: ExamState, said: Any, context: Context) -> Act:
    """The latest finding of its kind that has all that is named; else the latest of its kind."""

    def of_kind(row: Row) -> bool:
        return isinstance(row.entry, BaseFinding) and type(said) is type(row.entry).said

    def with_what_is_named(row: Row) -> bool:
        return of_kind(row) and _has_what_is_named(row, said, context)

    what = said.kind.replace("_", " ")
    if any(map(with_what_is_named, state.ledger.live)):
        named = getattr(said, "eye", None) is not None
        row = target(state, _in_named_eye(context) if named else context, with_what_is_named, what)
    elif getattr(said, "where", None) is not None:
        raise refuse(f"there is no {what} reading of that meridian to correct")
    else:
        row = target(state, context, of_kind, what)
    entry = row.entry
    if not hasattr(entry, "corrected"):
        raise refuse(f"{entry.words()} cannot be corrected; scratch it and say it again")
    new = entry.corrected(said, context)
    return Act(
        changes=(Replace(id=row.id, entry=new),), words=f"{new.words()}, instead of {instead_of(entry, new)}"
    )


def _has_what_is_named(row: Row, said: Any, context: Context) -> bool:
    named = getattr(said, "eye", None)
    if named is not None and row.entry.about not in (named, "both"):
        return False
    if isinstance(said, say.Dark) and said.where is not None and isinstance(row.entry, DarkEntry):
        return row.entry.meridian_deg == context.meridian_deg(said.where, row.entry.eye)
    if isinstance(said, say.Pupils) and (said.look is None) != (getattr(row.entry, "look", None) is None):
        return False
    return all(
        getattr(said, part) is None or getattr(said, part) == getattr(row.entry, part, None)
        for part in ("correction", "at", "agent")
        if hasattr(said, part)
    )
