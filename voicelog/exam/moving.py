"""Entries that belong elsewhere: to the other eye, to the other meridian, to the other habit of naming."""

from collections.abc import Iterable, Sequence

from voicelog.exam.entering import standing_at
from voicelog.exam.entries import (
    Context,
    Entry,
    EyeEntry,
    HabitEntry,
    LensesEntry,
    PlaceEntry,
    ReadingEntry,
    across_deg,
    other_eye,
)
from voicelog.exam.entries.base import refuse
from voicelog.exam.events import Act, Change, Line, Put, Replace
from voicelog.exam.ledger import Row
from voicelog.exam.questions import Stands
from voicelog.exam.scope import eyes_meant
from voicelog.exam.standing import EYES
from voicelog.exam.state import ExamState
from voicelog.exam.targets import is_at
from voicelog.phrases import meanings as say


def move(state: ExamState, meaning: say.Move, context: Context, name: str) -> Act:
    """Entries to the other eye. More than one, or one in place of another value, is asked about. Raises NeedsAnswer."""
    rows = _moved(state, meaning) if meaning.where is None else _at_place(state, meaning, context)
    if not rows:
        raise refuse("nothing stands that could be moved to another eye")
    eye = _to(state, meaning.eye, rows, context)
    if all(row.entry.about == eye for row in rows):
        raise Stands(f"{rows[-1].entry.words()}: that is the {eye} eye already")
    rows = tuple(row for row in rows if row.entry.about != eye)
    things = [row for row in rows if not isinstance(row.entry, EyeEntry | PlaceEntry)]
    if len(things) > 1 or any(_instead(state, row, eye) for row in things):
        listed = "; ".join(f"{row.entry.words()}{_instead(state, row, eye)}" for row in things)
        context.confirm("move", f"move to the {eye} eye: {listed}?")
    ids = {row.id for row in rows}
    changes: list[Change] = [Replace(id=row.id, entry=_of_eye(state, row.entry, eye, ids)) for row in rows]
    stays = meaning.where is not None and rows[-1] is not state.ledger.last
    if not any(isinstance(row.entry, EyeEntry) for row in rows) and state.eye != eye and not stays:
        changes.append(Put(id=name, entry=EyeEntry(eye=eye)))
    words = "; ".join(
        f"{_of_eye(state, row.entry, eye, ids).words()}{_instead(state, row, eye)}" for row in things
    )
    in_hand = state.eye if stays and state.eye else eye
    return Act(
        changes=tuple(changes),
        words=f"moved to the {eye} eye: {words}; {in_hand} eye in hand" if things else f"{eye} eye",
    )


def wrong_eye(state: ExamState, context: Context, name: str) -> Act:
    """Everything since the eye was named belongs to the other, or the entry that named its own. Raises NeedsAnswer."""
    last = state.ledger.last
    about = None if last is None else last.entry.about
    if (about == "right" or about == "left") and about != state.eye:
        # The last entry named its eye, which is not the one in hand: that is the wrong one.
        return move(state, say.Move(eye=other_eye(about)), context, name)
    if state.eye is None:
        raise refuse("no eye was named before")
    return move(state, say.Move(eye=other_eye(state.eye), scope="all"), context, name)


def _moved(state: ExamState, meaning: say.Move) -> tuple[Row, ...]:
    live = [row for row in state.ledger.live if row.entry.about in EYES]
    if not live:
        raise refuse("there is no entry of an eye to move")
    if meaning.scope == "all":
        named = [index for index, row in enumerate(live) if row.id == state.standing.eye_from]
        return (
            tuple(row for row in live[named[-1] :] if row.entry.about == state.eye) if named else tuple(live)
        )
    if meaning.scope == "last" and isinstance(live[-1].entry, EyeEntry):
        return (live[-1],)
    things = [row for row in live if not isinstance(row.entry, EyeEntry)]
    return _last_two(things) if meaning.scope == "two" else tuple(things[-1:])


def _last_two(things: Sequence[Row]) -> tuple[Row, ...]:
    """The last two values, with the places that were laid for them: a streak that is laid is no value."""
    values = [index for index, row in enumerate(things) if not isinstance(row.entry, PlaceEntry)][-2:]
    eyes = {things[index].entry.about for index in values}
    return tuple(row for row in things[values[0] :] if row.entry.about in eyes) if values else ()


def _at_place(state: ExamState, meaning: say.Move, context: Context) -> tuple[Row, ...]:
    """The last reading of a place in the eye that it is moved from. Raises NeedsAnswer where there is none."""
    eye = other_eye(meaning.eye) if meaning.eye in EYES else context.eye(None)
    if meaning.where is None:
        raise refuse("which meridian?", context.meaning)
    meridian_deg = context.meridian_deg(meaning.where, eye)
    rows = [row for row in state.ledger.live if row.entry.about == eye and is_at(row, meridian_deg)]
    if not rows:
        raise refuse(f"the {eye} eye has no reading along {meridian_deg:03d} to move")
    return (rows[-1],)


def _to(state: ExamState, named: say.EyeNamed, rows: tuple[Row, ...], context: Context) -> say.OneEye:
    if named in EYES:
        return named
    now = rows[-1].entry.about
    if named == "other" and now in EYES:
        return other_eye(now)
    return context.eye(named)


def _of_eye(state: ExamState, entry: Entry, eye: say.OneEye, moved: set[str]) -> Entry:
    """The entry for another eye. A lens that stayed before the wrong eye gives way to what is before the right one."""
    changes: dict[str, object] = {"eye": eye}
    here = state.eyes[eye]
    if isinstance(entry, ReadingEntry):
        changes |= {"pass_number": here.next_pass_number, "condition": here.condition}
    if isinstance(entry, ReadingEntry | LensesEntry):
        lenses, there = entry.lenses, here.in_place
        if entry.sphere_from is not None and entry.sphere_from not in moved:
            lenses = lenses.with_sphere(there.lenses.sphere_d)
            changes["sphere_from"] = there.sphere_from
        if entry.cylinder_from is not None and entry.cylinder_from not in moved:
            lenses = lenses.with_cylinder(there.lenses.cylinder)
            changes["cylinder_from"] = there.cylinder_from
        changes["lenses"] = lenses
    return entry.with_changes(**changes)


def _instead(state: ExamState, row: Row, eye: say.OneEye) -> str:
    entry = row.entry
    if not isinstance(entry, ReadingEntry) or entry.motion != "neutral":
        return ""
    there = state.eyes[eye]
    before = standing_at(there, entry.meridian_deg, there.next_pass_number, there.condition)
    return f", instead of {there.writing.gross_words(before.gross_d)}" if before is not None else ""


def swap(state: ExamState, meaning: say.Swap, context: Context) -> Act:
    """Two values the wrong way round; what was swapped just now is swapped back after a yes. Raises NeedsAnswer."""
    last = state.events[-1]
    if isinstance(last, Line) and last.acts and meaning in last.meanings:
        context.confirm("swap_back", "they were swapped just now: swap them back?")
    return _eyes_swapped(state, context) if meaning.what == "eyes" else _meridians_swapped(state, context)


def _eyes_swapped(state: ExamState, context: Context) -> Act:
    rows = [row for row in state.ledger.live if row.entry.about in EYES]
    if not rows:
        raise refuse("there is nothing of an eye to swap")
    context.confirm("swap_eyes", "swap the two eyes completely, right for left?")
    changes = []
    for row in rows:
        about = row.entry.about
        if about in EYES:
            changes.append(Replace(id=row.id, entry=row.entry.with_changes(eye=other_eye(about))))
    return Act(changes=tuple(changes), words="right and left eye swapped: " + _each_eye(rows))


def _each_eye(rows: Iterable[Row]) -> str:
    counted = {
        eye: sum(isinstance(r.entry, ReadingEntry) and r.entry.about == eye for r in rows) for eye in EYES
    }
    return f"right eye {counted['left']} readings, left eye {counted['right']}"


def _meridians_swapped(state: ExamState, context: Context) -> Act:
    if state.eye is None:
        raise refuse("which eye? Nothing is swapped before an eye is in hand")
    neutral = state.eyes[state.eye].neutral
    if len(neutral) != 2:
        raise refuse(f"the {state.eye} eye has not two meridians to swap: say them again")
    one, two = neutral
    if one.lenses.cylinder is not None or two.lenses.cylinder is not None:
        raise refuse("a cylinder is in it: say both readings again")
    changes, words = [], []
    for here, there in ((one, two), (two, one)):
        entry = here.entry.with_changes(meridian_deg=there.meridian_deg, named=there.entry.named)
        changes.append(Replace(id=here.id, entry=entry))
        words.append(entry.short_words())
    return Act(changes=tuple(changes), words=f"{state.eye} eye: {'; '.join(words)}")


def habit(state: ExamState, meaning: say.Habit, context: Context, name: str) -> Act:
    """What bare directions name from here on, and in the readings before if it was so there. Raises NeedsAnswer."""
    new = HabitEntry(naming=meaning.naming)
    turned = [
        row
        for row in state.ledger.live
        if isinstance(row.entry, ReadingEntry) and row.entry.bare and row.entry.named != meaning.naming
    ]
    eyes = tuple(eye for eye in EYES if any(row.entry.about == eye for row in turned))
    if meaning.throughout:
        what = f"{new.words()} in the readings before"
        meant = eyes_meant(state, None, context=context, what=what, among=eyes)
    else:
        # They lie across what follows, if they were named so too.
        before = "; ".join(row.entry.words() for row in turned)
        asked = f"{before}: did you name the {meaning.naming} there too?"
        meant = eyes if turned and context.there_too(asked) else ()
    changes: list[Change] = [Put(id=name, entry=new)]
    words = new.words()
    for row in turned:
        entry = row.entry
        if isinstance(entry, ReadingEntry) and entry.eye in meant:
            other = entry.with_changes(meridian_deg=across_deg(entry.meridian_deg), named=meaning.naming)
            changes.append(Replace(id=row.id, entry=other))
            words += f"; {other.words()}"
    return Act(changes=tuple(changes), words=words)
