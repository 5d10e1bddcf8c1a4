"""Corrections: which entry is to be what. Only what is named changes; what follows from it is named in the reply."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from voicelog.exam.asking import neutral_here
from voicelog.exam.changing import change_signs, exchange
from voicelog.exam.correcting_allowance import correct_distance, correct_working_lens
from voicelog.exam.correcting_findings import correct_finding
from voicelog.exam.dependants import replaced, replaced_all_round
from voicelog.exam.entries import (
    Context,
    DeviationEntry,
    Entry,
    KeratometryEntry,
    LensesEntry,
    PlaceEntry,
    PrismEntry,
    ReadingEntry,
    StepEntry,
    TrialLenses,
    exact_d,
    place_words,
)
from voicelog.exam.entries.base import refuse
from voicelog.exam.events import Act, Remove
from voicelog.exam.ledger import Row
from voicelog.exam.moving import move
from voicelog.exam.parts import holding, only_power_d, parts_of, spoken, with_part, with_power
from voicelog.exam.questions import NeedsAnswer, Stands
from voicelog.exam.said_parts import where as where_words
from voicelog.exam.state import ExamState
from voicelog.exam.targets import (
    bare_target,
    cylinder_of,
    has_cylinder,
    has_power,
    in_hand,
    of_nth_meridian,
    reading_meant,
    target,
)
from voicelog.exam.turning import named_deg, turned, turned_meridians, turned_places, with_place
from voicelog.optics import written_axis, written_power
from voicelog.phrases import meanings as say


def correct(state: ExamState, meaning: say.Correction, context: Context, name: str) -> Act:
    """The act of a correction. Raises NeedsAnswer."""
    said = meaning.entry
    _ask_what_is_meant(state, said, context)
    if meaning.nth is not None:
        return _correct_nth(meaning.nth, state, meaning, context, name)
    if meaning.eye is not None:
        return _correct_in(context.eye(meaning.eye), state, meaning, context, name)
    if meaning.wrong is not None and isinstance(said, say.LoosePower):
        return exchange(state, meaning.wrong, said.power, context)
    if isinstance(said, say.LooseSign | say.LoosePower):
        return _of_last_power(state, meaning, said, context)
    match said:
        case say.Reading():
            row = reading_meant(state, said, context)
            return _put_right(state, row, said, context, meaning.wrong)
        case say.Lenses(remove="cylinder"):
            row = target(state, context, _has_trial_cylinder, "cylinder")
            return _lenses(state, row, said, context)
        case say.Lenses():
            row = target(
                state, context, lambda each: isinstance(each.entry, ReadingEntry | LensesEntry), "lens"
            )
            _refuse_unheld(row, meaning.wrong, context)
            return _lenses(state, row, said, context)
        case say.LooseAxis(axis_deg=axis):
            return _axis(state, axis, meaning.wrong_axis_deg, context, name)
        case say.LooseWhere(where=where):
            row = bare_target(state, context, _has_place, "reading")
            new = with_place(row, where, context)
            _ask_of_one_there(state, row, new, context)
            return replaced(state, row, new)
        case _:
            return _of_the_rest(state, said, context, name)


def _of_the_rest(state: ExamState, said: Any, context: Context, name: str) -> Act:
    """What is no part of a reading or a lens. Raises NeedsAnswer."""
    match said:
        case say.WorkingDistance():
            return correct_distance(state, said, context, name)
        case say.WorkingLens():
            return correct_working_lens(state, said, context)
        case say.Eye(eye=eye):
            return move(state, say.Move(eye=eye, scope="all"), context, name)
        case _:
            return correct_finding(state, said, context)


def _ask_what_is_meant(state: ExamState, said: say.Meaning, context: Context) -> None:
    """A bare number behind a keratometry, a prism or the like may be of it, and would change what was before it."""
    last = state.ledger.last
    bare = isinstance(said, say.LoosePower | say.LooseSign | say.LooseAxis | say.WorkingDistance)
    own = (StepEntry, KeratometryEntry, DeviationEntry, PrismEntry)
    if bare and last is not None and isinstance(last.entry, own):
        context.confirm("before_it", f"the last entry is {last.entry.words()}: is one before it meant?")


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
        return correct_distance(state, say.WorkingDistance(distance=right), context, name)
    rows = [row for row in state.ledger.live if holding(row, say.Power(size_d=wrong, sign=None))]
    if not rows and (places := turned_places(state, right, wrong, context)) is not None:
        return places
    if not rows:
        raise refuse(f"there is no {wrong} to put right: say which entry", context.meaning)
    (part,) = holding(rows[-1], say.Power(size_d=wrong, sign=None))
    right_d = float(right if parts_of(rows[-1])[part] > 0 else -right)
    context.confirm("which_number", f"change {rows[-1].entry.words()} to {written_power(right_d)}?")
    return replaced(state, rows[-1], with_part(rows[-1], part, right_d, context))


def _of_last_power(
    state: ExamState, meaning: say.Correction, said: say.LooseSign | say.LoosePower, context: Context
) -> Act:
    """ "No, minus", "no, plus two": the last power; a sign also of several."""
    if isinstance(said, say.LooseSign) and meaning.count > 1:
        return change_signs(state, meaning, said.sign, context)
    _ask_of_place_since(state, said, context)
    row = bare_target(state, context, has_power, "power")
    if isinstance(said, say.LoosePower):
        return replaced_all_round(state, row, with_power(row, exact_d(said.power), context))
    size_d = abs(only_power_d(row))
    return replaced_all_round(
        state, row, with_power(row, size_d if said.sign == "plus" else -size_d, context)
    )


def _ask_of_place_since(state: ExamState, said: say.LooseSign | say.LoosePower, context: Context) -> None:
    """A power behind a place that has none yet: "vertical, three ... sorry, three and a half" is of that place.

    Raises NeedsAnswer.
    """
    last = state.ledger.last
    if context.pinned is not None or last is None or not isinstance(last.entry, PlaceEntry):
        return
    if not in_hand(state, last):
        return
    if isinstance(said, say.LoosePower):
        raise NeedsAnswer(neutral_here(said.power, place_words(last.entry.meridian_deg, state.naming)))
    row = bare_target(state, context, has_power, "power")
    context.confirm("place_since", f"change {row.entry.words()} to {said.sign}?", pinned=row.id)


def _axis(state: ExamState, axis_deg: int, wrong_deg: int | None, context: Context, name: str) -> Act:
    if wrong_deg is not None and not _is_axis_of_last(state, axis_deg, wrong_deg):
        return _bare_number(state, axis_deg, wrong_deg, context, name)
    if context.pinned is None and not any(has_cylinder(row) for row in state.ledger.live):
        return turned_meridians(state, axis_deg, context)
    row = bare_target(state, context, has_cylinder, "cylinder axis")
    return turned(state, row, axis_deg, wrong_deg, context)


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
    if isinstance(meaning.entry, say.LooseWhere):
        # "No horizontal for the right" may tell of none.
        text = f"change {rows[-1].entry.words()} to {where_words(meaning.entry.where)}?"
        context.confirm("place_of_eye", text, pinned=rows[-1].id)
    pinned = replace(context, pinned=context.pinned or rows[-1].id, settled=(*context.settled, "dropped"))
    return correct(state, meaning.model_copy(update={"eye": None}), pinned, name)


def _ask_of_one_there(state: ExamState, row: Row, new: Entry, context: Context) -> None:
    """ "That was vertical", where the vertical has a value of its own: it may be the two that are the wrong way round.

    Raises NeedsAnswer.
    """
    old = row.entry
    if not isinstance(old, ReadingEntry) or not isinstance(new, ReadingEntry) or new.motion != "neutral":
        return
    there = state.eyes[new.eye].neutral_at(new.meridian_deg)
    if old.meridian_deg != new.meridian_deg and there is not None and there != new.lenses:
        context.confirm("one_there", f"{new.words()}, in the place of {there.words()}?", row.id)


def _correct_nth(nth: int, state: ExamState, meaning: say.Correction, context: Context, name: str) -> Act:
    """ "The second was one ten": a bare number is of the meridian, and asked about where it could be a power as well.

    Raises NeedsAnswer.
    """
    row = of_nth_meridian(state, nth, context.eye(meaning.eye), context)
    look, said = row.entry, meaning.entry
    if (
        isinstance(look, ReadingEntry)
        and isinstance(said, say.LooseWhere)
        and said.where.angle_deg is not None
    ):
        if said.where.angle_deg % 25 == 0:
            asked = f"{look.words()}: at {written_axis(said.where.angle_deg)} instead?"
            context.confirm("which_number", asked)
        new = with_place(row, say.Where(names=look.named, angle=said.where.angle_deg), context)
        _ask_of_one_there(state, row, new, context)
        places = turned_places(state, said.where.angle_deg, named_deg(look), context)
        if places is not None:
            return places
    pinned = replace(context, pinned=context.pinned or row.id, settled=(*context.settled, "dropped"))
    return correct(state, meaning.model_copy(update={"nth": None, "eye": None}), pinned, name)


def _has_place(row: Row) -> bool:
    return isinstance(row.entry, ReadingEntry | PlaceEntry)


_FITTING: Mapping[type[say.Model], Callable[[Row], bool]] = {
    say.LoosePower: has_power,
    say.LooseSign: has_power,
    say.LooseAxis: has_cylinder,
    say.LooseWhere: _has_place,
}
"""Which entries a bare part can put right."""


def _has_trial_cylinder(row: Row) -> bool:
    return isinstance(row.entry, ReadingEntry | LensesEntry) and has_cylinder(row)


def _put_right(
    state: ExamState, row: Row, said: say.Reading, context: Context, wrong: say.Power | None
) -> Act:
    entry = row.entry
    if not isinstance(entry, ReadingEntry):
        raise refuse(f"{entry.words()} is no reading", context.meaning)
    _refuse_unheld(row, wrong, context)
    return replaced(state, row, entry.corrected(said, context))


def _refuse_unheld(row: Row, wrong: say.Power | None, context: Context) -> None:
    """ "Not one and a half" is of an entry that holds it. Raises NeedsAnswer."""
    if wrong is not None and not holding(row, wrong):
        text = f"{row.entry.words()} does not hold {spoken(wrong)}: say the whole reading"
        raise refuse(text, context.meaning)


def _lenses(state: ExamState, row: Row, said: say.Lenses, context: Context) -> Act:
    entry = row.entry
    if isinstance(entry, LensesEntry):
        return replaced(state, row, entry.corrected(said, context))
    if not isinstance(entry, ReadingEntry):
        raise refuse(f"{entry.words()} has no lenses", context.meaning)
    if said.remove is None:
        return replaced_all_round(
            state, row, entry.corrected(say.Reading(motion=entry.motion, lens=said.lens), context)
        )
    if said.remove == "lens":
        context.confirm("take_back", f"take back {entry.words()}?")
        return Act(changes=(Remove(id=row.id),), words=f"taken back: {entry.words()}")
    after = TrialLenses() if said.remove == "all" else entry.lenses.with_cylinder(None)
    if after.empty:
        raise refuse(
            f"{entry.words()}: nothing would be in the frame; scratch it, or say the lens", context.meaning
        )
    return replaced(state, row, entry.with_changes(lenses=after, cylinder_from=None))
