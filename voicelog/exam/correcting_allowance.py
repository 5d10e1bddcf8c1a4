"""What readings were taken from or through was misheard: it changes together with those readings."""

from voicelog.exam.entering import readings_of, with_allowance
from voicelog.exam.entries import Context, DistanceEntry, WorkingLensEntry, counts_for
from voicelog.exam.entries.base import refuse
from voicelog.exam.events import Act, Change, Put, Replace
from voicelog.exam.scope import eyes_meant
from voicelog.exam.state import ExamState
from voicelog.exam.targets import target
from voicelog.optics import written_cm
from voicelog.phrases import meanings as say


def correct_distance(state: ExamState, said: say.WorkingDistance, context: Context, name: str) -> Act:
    """The distance was misheard: it changes with the readings that were taken from it."""
    rows = [row for row in state.ledger.live if isinstance(row.entry, DistanceEntry)]
    rows.sort(key=lambda row: row.id == state.standing.allowance_from)  # one eye may have its own
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
        state, said.eye, context=context, what=f"working distance {written_cm(new.distance_cm)}", among=eyes
    )
    if len(meant) == 1 and said.eye is not None and eyes != meant:
        new = new.with_changes(eye=meant[0])
    whole = bool(rows) and set(eyes) <= set(meant) and (new.eye is None or rows[-1].entry.about == new.eye)
    said_by = taken_from if whole else name
    changes: list[Change] = [Replace(id=rows[-1].id, entry=new) if whole else Put(id=name, entry=new)]
    for each in taken:
        if each.entry.eye in meant:
            allowance = each.allowance.model_copy(update={"distance_cm": new.distance_cm})
            changes.append(with_allowance(each, allowance, said_by))
    return Act(changes=tuple(changes), words=_distance_words(new, state, len(changes) - 1, meant))


def _distance_words(new: DistanceEntry, state: ExamState, readings: int, eyes: tuple[say.OneEye, ...]) -> str:
    before = f", instead of {written_cm(state.distance_cm)}" if state.distance_cm is not None else ""
    if not readings:
        return f"{new.words()}{before}"
    counted = "1 reading" if readings == 1 else f"{readings} readings"
    return f"{new.words()}{before}, with {counted} of the {' and '.join(eyes)} eye"


def correct_working_lens(state: ExamState, said: say.WorkingLens, context: Context) -> Act:
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
        of_it = counts_for(entry, taken.entry.eye) and _entered_later(state, taken.id, row.id)
        if of_it and taken.allowance.lens_in == (entry.position == "in"):
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
