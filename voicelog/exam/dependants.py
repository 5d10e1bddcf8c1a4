"""An entry put right, and the entries that share its lens: a sphere that stayed behind a cylinder is one lens."""

from voicelog.exam.entries import (
    BaseFinding,
    Entry,
    LensesEntry,
    ReadingEntry,
)
from voicelog.exam.events import Act, Replace
from voicelog.exam.ledger import Row
from voicelog.exam.state import ExamState
from voicelog.optics import written_power


def replaced(state: ExamState, row: Row, new: Entry) -> Act:
    """The act that puts an entry right, with those in which its lens stayed; all of it in its words."""
    old = row.entry
    changes = [Replace(id=row.id, entry=new)]
    words = f"{new.words()}, instead of {instead_of(old, new)}"
    if isinstance(old, ReadingEntry | LensesEntry) and isinstance(new, ReadingEntry | LensesEntry):
        for each in state.ledger.live:
            if not isinstance(each.entry, ReadingEntry | LensesEntry):
                continue
            follower = following(each.entry, row.id, old, new)
            if follower is not None:
                changes.append(Replace(id=each.id, entry=follower))
                words += f"; with it {_short(follower)}"
    return Act(changes=tuple(changes), words=words)


def replaced_all_round(state: ExamState, row: Row, new: Entry) -> Act:
    """As `replaced`; a lens that was neutral all round is one lens in both its meridians, and changes in both."""
    act = replaced(state, row, new)
    old = row.entry
    if not isinstance(old, ReadingEntry) or not isinstance(new, ReadingEntry) or not old.all_round:
        return act
    changed = {each.id for each in act.changes if isinstance(each, Replace)}
    changes, words = list(act.changes), act.words
    for each in state.ledger.live:
        if each.id in changed or not is_of_pair(each, old) or not isinstance(each.entry, ReadingEntry):
            continue
        follower = each.entry.with_changes(lenses=new.lenses)
        changes.append(Replace(id=each.id, entry=follower))
        words += f"; with it {_short(follower)}"
    return act.model_copy(update={"changes": tuple(changes), "words": words})


def is_of_pair(row: Row, entry: ReadingEntry) -> bool:
    """Whether a row is of the same lens that was neutral all round."""
    other = row.entry
    return (
        isinstance(other, ReadingEntry)
        and other.all_round
        and (other.eye, other.pass_number, other.condition, other.lenses)
        == (entry.eye, entry.pass_number, entry.condition, entry.lenses)
    )


WithLenses = ReadingEntry | LensesEntry


def following(
    entry: WithLenses,
    origin: str,
    old: ReadingEntry | LensesEntry,
    new: ReadingEntry | LensesEntry,
    *,
    renamed: str | None = None,
) -> WithLenses | None:
    """An entry in which a lens of `origin` stayed, with that lens put right; None where nothing changes.

    `renamed` is the id of the entry that puts the lens there from now on, where it is another one.
    """
    lenses, changes = entry.lenses, {}
    if entry.sphere_from == origin and old.lenses.sphere_d != new.lenses.sphere_d:
        lenses = lenses.with_sphere(new.lenses.sphere_d)
        changes["sphere_from"] = origin if renamed is None else new.sphere_from or renamed
    if entry.cylinder_from == origin and old.lenses.cylinder != new.lenses.cylinder:
        lenses = lenses.with_cylinder(new.lenses.cylinder)
        changes["cylinder_from"] = origin if renamed is None else new.cylinder_from or renamed
    return None if lenses == entry.lenses else entry.with_changes(lenses=lenses, **changes)


def instead_of(old: Entry, new: Entry) -> str:
    """What of an entry was otherwise, in words."""
    if isinstance(old, ReadingEntry) and isinstance(new, ReadingEntry):
        parts = []
        if old.eye != new.eye:
            parts.append(f"{old.eye} eye")
        if old.meridian_deg != new.meridian_deg:
            parts.append(old.place_words)
        if old.motion != new.motion:
            parts.append(old.motion)
        if old.lenses != new.lenses:
            parts.append(_lens_words(old, new))
        if old.allowance != new.allowance:
            parts.append(old.allowance.words())
        return ", ".join(parts) or "the same"
    if isinstance(old, LensesEntry) and isinstance(new, LensesEntry):
        return _lens_words(old, new)
    if isinstance(old, BaseFinding):
        return old.value_words() if old.about == new.about else old.words()
    return old.words()


def _lens_words(old: ReadingEntry | LensesEntry, new: ReadingEntry | LensesEntry) -> str:
    only_sphere = old.lenses.cylinder == new.lenses.cylinder and old.lenses.sphere_d is not None
    return written_power(old.lenses.sphere_d or 0.0) if only_sphere else old.lenses.words()


def _short(entry: ReadingEntry | LensesEntry) -> str:
    return entry.short_words() if isinstance(entry, ReadingEntry) else entry.words()
