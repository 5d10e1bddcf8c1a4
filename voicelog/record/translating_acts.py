"""The acts that an old entry makes today: entered as the exchange would take it, with what was believed then."""

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from voicelog.exam.dependants import replaced
from voicelog.exam.entries import (
    BaseFinding,
    Context,
    DistanceEntry,
    LensesEntry,
    ReadingEntry,
    WorkingLensEntry,
)
from voicelog.exam.entries.allowance import LENS_FITS_D
from voicelog.exam.events import Act, Dialogue, Put
from voicelog.exam.exchange import respond
from voicelog.exam.ledger import Row
from voicelog.exam.questions import NeedsAnswer
from voicelog.exam.standing import EYES
from voicelog.exam.state import ExamState
from voicelog.optics import WorkingDistance
from voicelog.phrases import meanings as say
from voicelog.record.amending import without_doubts
from voicelog.record.errors import CannotFollowError
from voicelog.record.old_events import Said

_MOST_DOUBTS: Final = 8
_ACTS: Final = (say.Correction, say.Change, say.NotBut, say.Scratch)


def acts_of(state: ExamState, said: Said, earlier: tuple[Said, ...]) -> tuple[tuple[Act, ...], str]:
    """The acts, and why there are none ("" where there need be none); `earlier` are the old events before it."""
    # A bare direction went by the habit then, whichever way the readings before it were named.
    state = replace(state, standing=replace(state.standing, habit_said=True))
    match said.entry:
        case None:
            return (), ""
        case say.Scratch():
            return _taken_back(state, said, earlier)
        case say.Plain(kind="wrong_eye"):
            return _entered(state, _of_named_eye(earlier) or said.entry, said.number)
        case say.Correction() | say.Change() | say.NotBut():
            return _corrected(state, said.entry, said.number, earlier)
        case say.Refined() | say.Spectacles():
            return _entered(state, _joined(state, said.entry, earlier), said.number)
        case say.WorkingLens() | say.WorkingDistance():
            return _with_its_distance(*_entered(state, said.entry, said.number), state, said.number)
        case say.Pass():
            acts, _ = _entered(state, said.entry, said.number)
            return acts, ""  # announced twice, or before any reading, it did nothing then either
        case _:
            return _entered(state, said.entry, said.number)


def _entered(state: ExamState, meaning: say.Meaning, number: int) -> tuple[tuple[Act, ...], str]:
    """What today's exchange makes of it when every doubt gets a yes; or what it asks that no yes answers."""
    now = replace(state, dialogue=Dialogue())
    reply = respond(now, (meaning,), number=number)
    for _ in range(_MOST_DOUBTS):
        if reply.question is None:
            return reply.acts, "" if reply.acts else reply.text
        if reply.question.missing not in ("confirm", "scope"):
            break
        now = replace(now, dialogue=reply.dialogue or now.dialogue)
        reply = respond(now, (say.Answer(answer="yes"),), number=number)
    return (), reply.text


def _standing(earlier: tuple[Said, ...]) -> list[Said]:
    """The old entries that an old "scratch that" could still take back, the last at the end."""
    found: list[Said] = []
    for each in earlier:
        if isinstance(each.entry, say.Scratch):
            del found[-1:]
        elif each.entry is not None:
            found.append(each)
    return found


def _taken_back(state: ExamState, said: Said, earlier: tuple[Said, ...]) -> tuple[tuple[Act, ...], str]:
    """The last entry of then; one that was not taken up needs no taking back."""
    meant = _standing(earlier)[-1:]
    done = state.ledger.done
    if not meant or not done or done[-1].number != meant[0].number:
        return (), ""
    return _entered(state, say.Scratch(), said.number)


def _last_entry(earlier: tuple[Said, ...]) -> Said | None:
    """The last old entry that counts, corrections apart."""
    return next((each for each in reversed(_standing(earlier)) if not _is_act(each.entry)), None)


def _is_act(entry: say.Meaning | None) -> bool:
    return isinstance(entry, _ACTS) or (isinstance(entry, say.Plain) and entry.kind == "wrong_eye")


def _of_named_eye(earlier: tuple[Said, ...]) -> say.Move | None:
    """ "Wrong eye" after an entry that named its eye itself meant that entry alone."""
    last = _last_entry(earlier)
    eye = None if last is None or isinstance(last.entry, say.Eye) else getattr(last.entry, "eye", None)
    return say.Move(eye="left" if eye == "right" else "right") if eye in EYES else None


def _joined(
    state: ExamState, entry: say.Refined | say.Spectacles, earlier: tuple[Said, ...]
) -> say.Refined | say.Spectacles:
    """A sphere said after a cylinder that had none yet: only both together are an entry."""
    if entry.lens.sphere is None or entry.lens.cylinder is not None:
        return entry
    eye = state.eye
    for each in reversed(_standing(earlier)):
        if type(each.entry) is not type(entry) or str(each.number) in state.ledger.rows:
            continue
        waiting = each.entry
        if isinstance(waiting, say.Refined | say.Spectacles) and (waiting.eye or eye) == (entry.eye or eye):
            lens = entry.lens.model_copy(update={"cylinder": waiting.lens.cylinder})
            return entry.model_copy(update={"lens": lens})
    return entry


def _with_its_distance(
    acts: tuple[Act, ...], why: str, state: ExamState, number: int
) -> tuple[tuple[Act, ...], str]:
    """With the lens in, nothing was taken off then; a lens for another distance was believed before the distance."""
    if len(acts) != 1:
        return acts, why
    allowance = state.after_act(acts[0], number).allowance
    if not allowance.lens_in or not allowance.lens_d or allowance.distance_cm is None:
        return acts, why
    if abs(WorkingDistance(allowance.distance_cm / 100).allowance_d - allowance.lens_d) <= LENS_FITS_D:
        return acts, why
    (act,) = acts
    said_lens = any(
        isinstance(each, Put) and isinstance(each.entry, WorkingLensEntry) for each in act.changes
    )
    more: DistanceEntry | WorkingLensEntry = (
        DistanceEntry(distance_cm=round(100 / allowance.lens_d, 3))
        if said_lens
        else WorkingLensEntry(position="in")
    )
    changes = (*act.changes, Put(id=f"{number}.2", entry=more))
    return (act.model_copy(update={"changes": changes}),), why


def _corrected(
    state: ExamState,
    entry: say.Correction | say.Change | say.NotBut,
    number: int,
    earlier: tuple[Said, ...],
) -> tuple[tuple[Act, ...], str]:
    """A correction looked in other places then: in the last entry, or the last of its kind, of whatever eye."""
    said = entry.entry if isinstance(entry, say.Correction) else entry
    if isinstance(said, say.LoosePower | say.LooseAxis | say.NotBut):
        last = _last_entry(earlier)
        row = None if last is None else state.ledger.rows.get(str(last.number))
        if row is None:
            return (), "what it corrects was not taken up"
    else:
        row = next(_looked_for(state, said), None)
    if isinstance(said, say.Reading) and row is not None and not _is_here(state, said, row):
        return _put_in(state, row, said)
    if isinstance(said, say.Eye) and said.eye == state.eye:
        return (), ""
    about = None if row is None else row.entry.about
    there = state if about not in EYES else replace(state, standing=replace(state.standing, eye=about))
    acts, why = _entered(there, entry, number)
    if acts or not isinstance(said, say.LoosePower) or row is None:
        return acts, why
    return _put_in(state, row, say.Reading(motion="neutral", lens=say.Lens(sphere=said.power)))


def _looked_for(state: ExamState, said: say.Meaning) -> Iterator[Row]:
    """Entries that an old correction could mean, the likeliest first."""
    rows = tuple(reversed(state.ledger.live))
    if isinstance(said, say.Reading):
        readings = [row for row in rows if isinstance(row.entry, ReadingEntry)]
        yield from (row for row in readings if _is_here(state, said, row))
        yield from readings
    elif isinstance(said, say.LooseWhere):
        yield from (row for row in rows if isinstance(row.entry, ReadingEntry))
    elif isinstance(said, say.Lenses):
        yield from (row for row in rows if isinstance(row.entry, ReadingEntry | LensesEntry))
    else:
        of_kind = [
            row for row in rows if isinstance(row.entry, BaseFinding) and type(row.entry).said is type(said)
        ]
        yield from (row for row in of_kind if _has_what_is_named(row, said))
        yield from of_kind


def _is_here(state: ExamState, said: say.Reading, row: Row) -> bool:
    """Whether a reading is of the place that was said, in the eye and pass in hand; of any place when none was said."""
    entry = row.entry
    if said.where is None or not isinstance(entry, ReadingEntry):
        return said.where is None
    eye = state.eyes[entry.eye]
    in_hand = entry.eye == state.eye and not eye.pass_opened and entry.pass_number == eye.pass_number
    place = Context(state.standing, said).meridian_deg(said.where, entry.eye)
    return in_hand and entry.meridian_deg == place


def _has_what_is_named(row: Row, said: say.Meaning) -> bool:
    named = getattr(said, "eye", None)
    if named is not None and row.entry.about != named:
        return False
    if isinstance(said, say.Pupils) and (said.look is None) != (getattr(row.entry, "look", None) is None):
        return False
    parts = [part for part in ("correction", "at", "agent") if getattr(said, part, None) is not None]
    return all(getattr(said, part) == getattr(row.entry, part, None) for part in parts)


def _put_in(state: ExamState, row: Row, said: say.Reading) -> tuple[tuple[Act, ...], str]:
    """A reading corrected where today's rules would look elsewhere."""
    entry = row.entry
    if not isinstance(entry, ReadingEntry):
        return (), f"{entry.words()} is no reading"
    right = said if said.where is not None else said.model_copy(update={"motion": entry.motion})
    try:
        act = without_doubts(
            lambda settled: replaced(
                state, row, entry.corrected(right, Context(state.standing, right, settled))
            )
        )
    except (NeedsAnswer, CannotFollowError) as error:
        return (), str(error)
    return (act,), ""
