"""The ledger: every entry with what became of it. Corrections change entries by name; nothing is dropped."""

from dataclasses import dataclass, field, replace
from typing import Literal

from voicelog.exam.mending import FINDINGS, entry_meant, mended, named_eye
from voicelog.optics import streak_to_meridian_deg
from voicelog.phrases.meanings import (
    Addition,
    Change,
    Correction,
    Dark,
    Estimate,
    Eye,
    Lens,
    Lenses,
    LooseAxis,
    LoosePower,
    LooseWhere,
    Meaning,
    Naming,
    NotBut,
    Pass,
    Plain,
    Power,
    Reading,
    Refined,
    Spectacles,
    Where,
    WorkingDistance,
    WorkingLens,
)

LineState = Literal["live", "corrected", "withdrawn"]


class CannotCorrectError(ValueError):
    """A correction finds nothing that it could mean; the text says what it looked for."""


@dataclass(frozen=True, slots=True)
class Line:
    """One entry: the number of its event, the meaning it has now, and the one it was entered with."""

    number: int
    meaning: Meaning
    original: Meaning
    state: LineState = "live"
    corrected_by: int | None = None


@dataclass(frozen=True, slots=True)
class Ledger:
    """Lines in the order they were said, and the ledgers before each act, for taking the last act back."""

    naming: Naming
    lines: tuple[Line, ...] = ()
    # Not compared: it follows from the lines, and each holds all earlier ones in turn.
    before: tuple["Ledger", ...] = field(default=(), compare=False, repr=False)

    def with_entry(self, number: int, meaning: Meaning) -> "Ledger":
        """The ledger after one more entry, correction or withdrawal.

        Raises CannotCorrectError when a correction names nothing that is there.
        """
        if isinstance(meaning, Plain) and meaning.kind == "scratch":
            return self._taken_back(number, meaning)
        line = Line(number, meaning, meaning)
        match meaning:
            case Correction(entry=entry):
                at, corrected = _corrected(self.live, entry, self.naming)
            case Change(where=where, power=power):
                at, corrected = _changed(self.live, where, power, self.naming)
            case NotBut(wrong=wrong, right=right):
                at, corrected = _exchanged(self.live, wrong, right)
            case Plain(kind="wrong_eye"):
                at, corrected = _other_eye(self.live)
            case _:
                return Ledger(self.naming, (*self.lines, line), (*self.before, self))
        lines = tuple(
            replace(each, meaning=corrected, state="corrected", corrected_by=number)
            if each.number == at
            else each
            for each in self.lines
        )
        return Ledger(self.naming, (*lines, line), (*self.before, self))

    @property
    def live(self) -> tuple[Line, ...]:
        """The lines that make the exam: entries as corrected, without corrections and what was withdrawn."""
        return tuple(each for each in self.lines if each.state != "withdrawn" and not _is_act(each.meaning))

    def _taken_back(self, number: int, scratch: Meaning) -> "Ledger":
        if not self.before:
            raise CannotCorrectError("there is nothing to take back")
        undone = next(
            each for each in reversed(self.lines) if each.state != "withdrawn" and not _is_scratch(each)
        )
        earlier = {each.number: each for each in self.before[-1].lines}
        lines = tuple(
            replace(each, state="withdrawn", corrected_by=number)
            if each.number == undone.number
            else replace(each, meaning=old.meaning, state=old.state, corrected_by=old.corrected_by)
            if (old := earlier.get(each.number)) and each.state != "withdrawn"
            else each
            for each in self.lines
        )
        return Ledger(self.naming, (*lines, Line(number, scratch, scratch)), self.before[:-1])


def _is_act(meaning: Meaning) -> bool:
    return isinstance(meaning, Correction | Change | NotBut) or (
        isinstance(meaning, Plain) and meaning.kind in ("scratch", "wrong_eye")
    )


def _is_scratch(line: Line) -> bool:
    return isinstance(line.meaning, Plain) and line.meaning.kind == "scratch"


def _last(lines: tuple[Line, ...], *kinds: type) -> Line:
    for line in reversed(lines):
        if isinstance(line.meaning, kinds):
            return line
    names = " or ".join(kind.__name__.lower() for kind in kinds)
    raise CannotCorrectError(f"there is no {names} to correct")


def _corrected(lines: tuple[Line, ...], entry: Meaning, naming: Naming) -> tuple[int, Meaning]:
    match entry:
        case Reading():
            line = _reading_at(lines, entry.where, naming) or _last(lines, Reading)
            return line.number, _inherit(entry, line.meaning)
        case LoosePower(power=power):
            line = _last_entry(lines)
            return line.number, _with_power(line.meaning, power)
        case LooseAxis(axis_deg=axis):
            line = _last_entry(lines)
            return line.number, _with_axis(line.meaning, axis)
        case LooseWhere(where=where):
            line = _last(lines, Reading)
            return line.number, line.meaning.model_copy(update={"where": where})
        case Lenses():
            line = _last(lines, Reading, Lenses)
            if entry.lens is None or (isinstance(line.meaning, Lenses) and line.meaning.lens is None):
                return line.number, entry
            return line.number, _with_lens(line.meaning, _merged(_lens_of(line.meaning), entry.lens))
        case WorkingDistance() | WorkingLens() | Eye():
            return _last(lines, type(entry)).number, entry
    if isinstance(entry, FINDINGS):
        return _mended(lines, entry)
    raise CannotCorrectError(f"a {entry.kind} cannot be corrected")


def _mended(lines: tuple[Line, ...], entry: Meaning) -> tuple[int, Meaning]:
    meant = entry_meant(lines, eyes_of(lines), entry)
    if meant is None:
        raise CannotCorrectError(f"there is no {entry.kind.replace('_', ' ')} entry to correct")
    number, old = meant
    return number, mended_finding(entry, old)


def mended_finding(entry: Meaning, old: Meaning) -> Meaning:
    """A finding put right: what `entry` leaves unsaid stays, and of the lenses only those that are named change.

    Raises CannotCorrectError when a cylinder is put right without an axis where there was none.
    """
    new, lens = mended(entry, old), _lens_of(entry)
    return new if lens is None else _with_lens(new, _merged(_lens_of(old), lens))


def _inherit(entry: Reading, before: Meaning) -> Reading:
    """A corrected reading said without place or lens keeps those it had."""
    if not isinstance(before, Reading):
        return entry
    return entry.model_copy(update={"where": entry.where or before.where, "lens": entry.lens or before.lens})


def _merged(old: Lens | None, new: Lens) -> Lens:
    """The lenses of an entry with those put right that the correction names."""
    if old is None or new.on_top:
        return new
    cylinder = new.cylinder or old.cylinder
    if new.cylinder is not None and new.cylinder.axis_deg is None and new.cylinder.power.dioptres:
        if old.cylinder is None:
            raise CannotCorrectError("that entry has no cylinder; say correction cylinder with its axis")
        cylinder = new.cylinder.model_copy(update={"axis_deg": old.cylinder.axis_deg})
    return old.model_copy(update={"sphere": new.sphere or old.sphere, "cylinder": cylinder, "on_top": False})


def _changed(lines: tuple[Line, ...], where: Where, power: Power, naming: Naming) -> tuple[int, Meaning]:
    line = _reading_at(lines, where, naming)
    if line is None:
        raise CannotCorrectError(f"no reading at {where.angle_deg} is logged for this eye")
    if isinstance(line.meaning, Reading) and line.meaning.lens is None:
        return line.number, line.meaning.model_copy(update={"lens": Lens(sphere=power)})
    return line.number, _with_power(line.meaning, power)


def _exchanged(lines: tuple[Line, ...], wrong: Power, right: Power) -> tuple[int, Meaning]:
    line = _last_entry(lines)
    if isinstance(line.meaning, Addition | Estimate) and _same(line.meaning.power, wrong):
        return line.number, _with_power(line.meaning, right)
    lens = _lens_of(line.meaning)
    if lens is not None:
        in_cylinder = lens.cylinder is not None and _same(lens.cylinder.power, wrong)
        in_sphere = lens.sphere is not None and _same(lens.sphere, wrong)
        if in_cylinder and not in_sphere and lens.cylinder is not None:
            cylinder = lens.cylinder.model_copy(update={"power": right})
            return line.number, _with_lens(line.meaning, lens.model_copy(update={"cylinder": cylinder}))
        if in_sphere and not in_cylinder:
            return line.number, _with_lens(line.meaning, lens.model_copy(update={"sphere": right}))
    raise CannotCorrectError(
        f"the last entry does not hold {_spoken(wrong)} once; say correction and the whole entry"
    )


def _other_eye(lines: tuple[Line, ...]) -> tuple[int, Meaning]:
    """The last naming of an eye was wrong, and with it all that followed; or the eye that the last entry names."""
    last = lines[-1].meaning if lines else None
    if last is not None and (named := named_eye(last)) in ("right", "left"):
        return lines[-1].number, last.model_copy(update={"eye": "left" if named == "right" else "right"})
    line = _last(lines, Eye)
    eye = eyes_of(lines)[line.number]
    if eye is None:
        raise CannotCorrectError("no eye was named before")
    return line.number, Eye(eye="left" if eye == "right" else "right")


def eyes_of(lines: tuple[Line, ...]) -> dict[int, Literal["right", "left"] | None]:
    """Line number to the eye it belongs to; None while no eye was named ("other eye" names none by itself)."""
    eye: Literal["right", "left"] | None = None
    found = {}
    for line in lines:
        if isinstance(line.meaning, Eye):
            if line.meaning.eye != "other":
                eye = line.meaning.eye
            elif eye is not None:
                eye = "left" if eye == "right" else "right"
        found[line.number] = eye
    return found


def _last_entry(lines: tuple[Line, ...]) -> Line:
    if not lines:
        raise CannotCorrectError("there is no entry to correct")
    return lines[-1]


def _reading_at(lines: tuple[Line, ...], where: Where | None, naming: Naming) -> Line | None:
    """The latest reading of that meridian in the eye now examined, within the pass in hand."""
    if where is None or not lines:
        return None
    eyes = eyes_of(lines)
    now = eyes[lines[-1].number]
    for line in reversed(lines):
        if isinstance(line.meaning, Pass) and eyes[line.number] == now:
            return None
        place = line.meaning.where if isinstance(line.meaning, Reading) else None
        if place and eyes[line.number] == now and meridian_deg(place, naming) == meridian_deg(where, naming):
            return line
    return None


def meridian_deg(where: Where, naming: Naming) -> int:
    """The meridian of power meant by a place as named, 1 to 180; `naming` is the habit for unnamed ones."""
    if (where.names or naming) == "streak":
        return int(streak_to_meridian_deg(where.angle_deg))
    return where.angle_deg


def _lens_of(meaning: Meaning) -> Lens | None:
    return meaning.lens if isinstance(meaning, Reading | Lenses | Spectacles | Refined | Dark) else None


def _with_lens(meaning: Meaning, lens: Lens) -> Meaning:
    return meaning.model_copy(update={"lens": lens})


def _with_power(meaning: Meaning, power: Power) -> Meaning:
    """The same entry with another power: the only one it names, or that of its cylinder when asked so by name."""
    if isinstance(meaning, WorkingLens | Addition | Estimate) and meaning.power is not None:
        return meaning.model_copy(update={"power": power})
    if isinstance(meaning, Reading) and meaning.lens is None:
        return meaning.model_copy(update={"lens": Lens(sphere=power)})
    lens = _lens_of(meaning)
    if lens is None:
        raise CannotCorrectError("the last entry has no power")
    if lens.sphere is not None and lens.cylinder is not None:
        raise CannotCorrectError(
            "the last entry has a sphere and a cylinder; say correction sphere or correction cylinder"
        )
    if lens.cylinder is not None:
        cylinder = lens.cylinder.model_copy(update={"power": power})
        return _with_lens(meaning, lens.model_copy(update={"cylinder": cylinder}))
    return _with_lens(meaning, lens.model_copy(update={"sphere": power}))


def _with_axis(meaning: Meaning, axis_deg: int) -> Meaning:
    lens = _lens_of(meaning)
    if lens is None or lens.cylinder is None:
        raise CannotCorrectError("the last entry has no cylinder axis")
    cylinder = lens.cylinder.model_copy(update={"axis_deg": axis_deg})
    return _with_lens(meaning, lens.model_copy(update={"cylinder": cylinder}))


def _same(one: Power, other: Power) -> bool:
    return one.dioptres is not None and one.dioptres == other.dioptres


def _spoken(power: Power) -> str:
    return f"{power.dioptres:+.2f}" if power.dioptres is not None else "that power"
