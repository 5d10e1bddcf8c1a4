"""Putting an entry right after the exam: by its id, with a reason; the entry as it was stays in the ledger."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

from voicelog.exam.dependants import replaced
from voicelog.exam.entering import readings_of, with_allowance
from voicelog.exam.entries import (
    Allowance,
    ConditionEntry,
    Context,
    DistanceEntry,
    Entry,
    EyeEntry,
    MirrorEntry,
    PassEntry,
    ReadingEntry,
    WorkingLensEntry,
    counts_for,
    from_meaning,
    other_eye,
)
from voicelog.exam.events import Act, Remove, Replace
from voicelog.exam.gaps import first_gap
from voicelog.exam.ledger import Row
from voicelog.exam.moving import move
from voicelog.exam.pass_state import TakenReading
from voicelog.exam.questions import NeedsAnswer, Question
from voicelog.exam.standing import EYES
from voicelog.exam.state import ExamState
from voicelog.phrases import meanings as say
from voicelog.record.errors import CannotFollowError
from voicelog.record.events import Amended

_MOST_DOUBTS = 8


def amended(state: ExamState, amendment: Amended) -> ExamState:
    """The state with entries put right, or taken out. Raises CannotFollowError when one of them is not there."""
    rows = dict(state.ledger.rows)
    for change in amendment.changes:
        if change.id not in rows:
            raise CannotFollowError(f"there is no entry {change.id}")
        rows[change.id] = _settled(rows[change.id], change, amendment.number)
    # What was taken back before is not brought back over an amendment.
    return state.with_ledger(replace(state.ledger, rows=rows, undone=()))


def _settled(row: Row, change: Replace | Remove, number: int) -> Row:
    """The row with its value for good: "scratch that" goes back to `past`, and must not bring an old value back."""
    withdrawn = isinstance(change, Remove)
    entry = row.entry if isinstance(change, Remove) else change.entry
    past = ((number, entry, withdrawn),) * (len(row.past) + 1)
    return replace(row, entry=entry, withdrawn=withdrawn, past=past)


def live_row(state: ExamState, entry_id: str) -> Row:
    """The entry with that id, if it counts. Raises CannotFollowError otherwise."""
    row = state.ledger.rows.get(entry_id)
    if row is None:
        raise CannotFollowError(
            f"there is no entry {entry_id} (a correction is none); voicelog record show lists them"
        )
    if row.withdrawn:
        raise CannotFollowError(f"entry {entry_id} was taken back; amend an entry that counts")
    return row


def taken_out(state: ExamState, entry_id: str) -> Act:
    """The act that takes an entry out, and nothing with it. Raises CannotFollowError."""
    row = live_row(state, entry_id)
    return Act(changes=(Remove(id=row.id),), words=f"taken out: {row.entry.words()}")


def put_right(state: ExamState, entry_id: str, meaning: say.Meaning) -> Act:
    """The act that makes an entry what a phrase says; parts left unsaid stay, as in a spoken correction.

    What was taken with an eye, a distance, a working distance lens, a mirror or without drops follows its entry.
    Raises CannotFollowError for an entry that does not count or is of another kind, and for what must be asked.
    """
    row = live_row(state, entry_id)
    if type(meaning) is not type(row.entry).said:
        wanted = row.entry.kind.replace("_", " ")
        article = "an" if wanted[0] in "aeiou" else "a"
        raise CannotFollowError(
            f"entry {entry_id} is {article} {wanted} entry, not {meaning.kind.replace('_', ' ')}"
        )
    gap = first_gap(meaning)
    if gap is not None:
        raise CannotFollowError(gap.text)
    try:
        return without_doubts(lambda settled: _act(state, row, meaning, settled))
    except NeedsAnswer as needed:
        raise CannotFollowError(needed.question.text) from None


def taken_back(state: ExamState, before: ExamState, amendment: Amended) -> Act:
    """The act that undoes an amendment; `before` is the exam without it and without all that came later.

    Raises CannotFollowError when an entry of it was changed again since.
    """
    changes: list[Remove | Replace] = []
    for change in amendment.changes:
        changed_by = state.ledger.rows[change.id].changed_by
        if changed_by != amendment.number:
            raise CannotFollowError(
                f"entry {change.id} was changed again by {changed_by}: take that back before {amendment.number}"
            )
        row = before.ledger.rows[change.id]
        changes.append(Remove(id=row.id) if row.withdrawn else Replace(id=row.id, entry=row.entry))
    return Act(changes=tuple(changes), words=f"amendment {amendment.number} taken back")


def without_doubts(act: Callable[[tuple[str, ...]], Act]) -> Act:
    """The act with every doubt laid to rest that only needs a yes, for all that it may be for. Raises NeedsAnswer."""
    settled: tuple[str, ...] = ()
    for _ in range(_MOST_DOUBTS):
        try:
            return act(settled)
        except NeedsAnswer as needed:
            doubt = {"confirm": needed.question.doubt, "scope": "scope:both"}.get(needed.question.missing)
            if not doubt or doubt in settled:
                raise
            settled = (*settled, doubt)
    raise CannotFollowError("it cannot be entered as it was said")


def _act(state: ExamState, row: Row, meaning: say.Meaning, settled: tuple[str, ...]) -> Act:
    about = row.entry.about
    standing = replace(state.standing, eye=about if about in EYES else None)
    context = Context(standing, meaning, settled)
    if isinstance(row.entry, EyeEntry) and isinstance(meaning, say.Eye):
        return _other_eye(state, row, row.entry, meaning, context)
    new = _new_entry(row.entry, meaning, context)
    act = replaced(state, row, new)
    changes = (*act.changes, *_taken_with(state, row, new))
    more = len(changes) - len(act.changes)
    counted = f"; with it {more} reading{'s' if more > 1 else ''}" if more else ""
    return Act(changes=changes, words=f"{act.words}{counted}")


def _new_entry(old: Entry, meaning: Any, context: Context) -> Entry:
    """`meaning` is of the kind that makes such an entry; `put_right` saw to that."""
    if isinstance(old, PassEntry):
        raise NeedsAnswer(Question(missing="repeat", text="a pass can only be taken out"))
    named = getattr(meaning, "eye", None)
    if isinstance(old, ReadingEntry) and named not in (None, old.eye):
        text = f"the reading is of the {old.eye} eye: amend the entry that names the eye, or take the reading out"
        raise NeedsAnswer(Question(missing="repeat", text=text))
    if hasattr(old, "corrected"):
        corrected: Entry = old.corrected(meaning, context)
        return corrected
    new = from_meaning(meaning, context)
    if isinstance(new, Question):
        raise NeedsAnswer(new)
    if named is None and old.about is not None and new.about != old.about:
        return new.with_changes(eye=old.about)
    return new


def _other_eye(state: ExamState, row: Row, entry: EyeEntry, meaning: say.Eye, context: Context) -> Act:
    """Another eye was meant: all that was entered for it up to the next naming of an eye moves with it."""
    eye = other_eye(entry.eye) if meaning.eye == "other" else meaning.eye
    until = next((each.id for each in _later(state, row) if isinstance(each.entry, EyeEntry)), None)
    rows = {}
    for name, each in state.ledger.rows.items():
        if name == until:
            break
        rows[name] = each
    there = replace(
        state,
        ledger=replace(state.ledger, rows=rows),
        standing=replace(state.standing, eye=entry.eye, eye_from=row.id),
    )
    act = move(there, say.Move(eye=eye, scope="all"), context, row.id)
    # The entry that was named comes first.
    changes = sorted(act.changes, key=lambda change: change.id != row.id)
    return Act(changes=tuple(changes), words=act.words.removesuffix(f"; {eye} eye in hand"))


def _later(state: ExamState, row: Row) -> Iterator[Row]:
    """Live rows behind one, in order."""
    behind = False
    for each in state.ledger.live:
        if behind:
            yield each
        behind = behind or each.id == row.id


def _taken_with(state: ExamState, row: Row, new: Entry) -> Iterator[Replace]:
    """The readings that were taken with what an entry said, put right with it."""
    old = row.entry
    taken = {each.id: each for each in readings_of(state)}
    if isinstance(old, DistanceEntry) and isinstance(new, DistanceEntry):
        for each in taken.values():
            if each.entry.distance_from == row.id:
                allowance = each.allowance.model_copy(update={"distance_cm": new.distance_cm})
                yield with_allowance(each, allowance, row.id)
        return
    if not isinstance(old, WorkingLensEntry | MirrorEntry | ConditionEntry):
        return
    for later in _later(state, row):
        if type(later.entry) is type(old) and later.entry.about == old.about:
            return
        reading = taken.get(later.id)
        if isinstance(old, WorkingLensEntry) and reading and not counts_for(old, reading.entry.eye):
            continue
        entry = None if reading is None else _with(reading, row.id, old, new)
        if entry is not None:
            yield Replace(id=later.id, entry=entry)


def _with(taken: TakenReading, said_by: str, old: Entry, new: Entry) -> ReadingEntry | None:
    """A reading taken with `new` in place of `old`; None when it was not taken with that."""
    entry = taken.entry
    match old, new:
        case WorkingLensEntry(position=position), WorkingLensEntry() if entry.allowance.lens_in == (
            position == "in"
        ):
            from_lens = entry.distance_from == said_by
            before = Allowance(distance_cm=None if from_lens else entry.allowance.distance_cm)
            return entry.with_changes(allowance=new.allowance(before))
        case MirrorEntry(mirror=mirror), MirrorEntry() if entry.mirror == mirror:
            return entry.with_changes(mirror=new.mirror)
        case ConditionEntry(eye=eye, condition=condition), ConditionEntry() if (
            eye in ("both", entry.eye) and entry.condition == condition
        ):
            return entry.with_changes(condition=new.condition)
        case _:
            return None
