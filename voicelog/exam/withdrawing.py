"""Taking back: the last thing entered, the last of a place, all of an eye; and bringing it back."""

from collections.abc import Iterator

from voicelog.exam.entries import Context, ReadingEntry
from voicelog.exam.entries.base import refuse
from voicelog.exam.events import Act, Remove, Replace
from voicelog.exam.ledger import Row, redoing, undoing
from voicelog.exam.questions import Stands
from voicelog.exam.state import ExamState
from voicelog.exam.targets import in_hand, is_at
from voicelog.phrases import meanings as say

MOST_SCRATCHED = 3


def scratch(state: ExamState, meaning: say.Scratch, context: Context, number: int) -> tuple[Act, ...]:
    """The acts that take back what is named, each undoing one thing. Raises NeedsAnswer."""
    if meaning.where is not None and meaning.where.which == "other" and meaning.eye is None:
        return (_other_of_two(state, context),)
    if meaning.where is not None:
        return (_at_place(state, meaning, context),)
    if meaning.all_of_eye or meaning.eye is not None:
        return (_of_eye(state, meaning, context),)
    if not 1 <= meaning.count <= MOST_SCRATCHED:
        raise refuse(f"at most {MOST_SCRATCHED} entries are taken back at once")
    return tuple(_last(state, meaning.count, number))


def _last(state: ExamState, count: int, number: int) -> Iterator[Act]:
    for _ in range(count):
        ledger = state.ledger
        if not ledger.done:
            raise refuse("there is nothing to take back")
        act = undoing(ledger.done[-1], ledger)
        then = state.after_act(act, number)
        words = f"taken back: {ledger.done[-1].act.words}{_eye_then(state, then)}"
        yield act.model_copy(update={"words": words})
        state = then


def _eye_then(before: ExamState, then: ExamState) -> str:
    """The eye that is in hand again, where it is another one."""
    if then.eye == before.eye:
        return ""
    return "; no eye is in hand" if then.eye is None else f"; the {then.eye} eye is in hand again"


def redo(state: ExamState) -> Act:
    """The act that brings back what was taken back last. Raises NeedsAnswer when nothing was."""
    if not state.ledger.undone:
        raise refuse("nothing was taken back")
    act = redoing(state.ledger.undone[-1])
    return act.model_copy(update={"words": f"kept: {act.words}"})


def _at_place(state: ExamState, meaning: say.Scratch, context: Context) -> Act:
    eye = context.eye(meaning.eye)
    if meaning.where is None:
        raise refuse("which meridian?", context.meaning)
    meridian_deg = context.meridian_deg(meaning.where, eye)
    rows = [row for row in state.ledger.live if is_at(row, meridian_deg) and row.entry.about == eye]
    if not rows:
        raise refuse(f"the {eye} eye has no reading along {meridian_deg:03d} to take back")
    return _removed([rows[-1]])


def _other_of_two(state: ExamState, context: Context) -> Act:
    """The reading that is left of two meridians, or the one across from that in hand."""
    eye = context.eye(None)
    rows = [
        row for row in state.ledger.live if row.entry.about == eye and isinstance(row.entry, ReadingEntry)
    ]
    here = [row for row in rows if in_hand(state, row)]
    if len(here) > 1:
        across = context.meridian_deg(say.Where(names=None, which="other"), eye)
        here = [row for row in here if is_at(row, across)]
    if len(here) != 1:
        raise refuse("which one? Say delete and its meridian")
    return _removed(here)


def _of_eye(state: ExamState, meaning: say.Scratch, context: Context) -> Act:
    eye = context.eye(meaning.eye)
    rows = [
        row for row in state.ledger.live if row.entry.about == eye and isinstance(row.entry, ReadingEntry)
    ]
    if not rows:
        raise refuse(f"the {eye} eye has no reading to take back")
    if not meaning.all_of_eye:
        return _removed([next((row for row in reversed(rows) if in_hand(state, row)), rows[-1])])
    listed = "; ".join(row.entry.words() for row in rows)
    context.confirm("clear", f"take back everything read of the {eye} eye ({listed})?")
    return _removed(rows)


def keep(state: ExamState, meaning: say.Keep, context: Context) -> Act:
    """The act that brings back what was taken back last of a place. Raises NeedsAnswer, Stands where it counts."""
    eye = context.eye(None)
    meridian_deg = context.meridian_deg(meaning.where, eye)
    rows = [row for row in state.ledger.rows.values() if row.entry.about == eye and is_at(row, meridian_deg)]
    if not rows:
        raise refuse(f"the {eye} eye has no reading along {meridian_deg:03d} to keep")
    if any(not row.withdrawn for row in rows):
        raise Stands(f"{[row for row in rows if not row.withdrawn][-1].entry.words()} stands")
    row = max(rows, key=lambda each: each.changed_by or 0)
    return Act(changes=(Replace(id=row.id, entry=row.entry),), words=f"kept: {row.entry.words()}")


def _removed(rows: list[Row]) -> Act:
    words = "; ".join(row.entry.words() for row in rows)
    return Act(changes=tuple(Remove(id=row.id) for row in rows), words=f"taken back: {words}")
