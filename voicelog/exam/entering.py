"""From a meaning that makes an entry to the act that enters it, with all that the act changes named in its words."""

from collections.abc import Iterator

from voicelog.exam.dependants import following
from voicelog.exam.entries import (
    Allowance,
    BaseFinding,
    Context,
    DarkEntry,
    DistanceEntry,
    Dryness,
    EyeEntry,
    ReadingEntry,
    WorkingLensEntry,
    counts_for,
    from_meaning,
)
from voicelog.exam.events import Act, Change, Put, Replace
from voicelog.exam.eye_state import EyeState
from voicelog.exam.pass_state import TakenReading
from voicelog.exam.questions import COMES_OUT, NeedsAnswer, Question
from voicelog.exam.scope import eyes_meant
from voicelog.exam.state import ExamState
from voicelog.optics import BELONGS_DEG, axis_difference_deg, written_cm, written_power
from voicelog.phrases import meanings as say


def enter(state: ExamState, meaning: say.Meaning, context: Context, name: str) -> Act:
    """The act that enters a meaning under the id `name`. Raises NeedsAnswer."""
    _which_comes_out(state, meaning)
    entry = from_meaning(meaning, context)
    if isinstance(entry, Question):
        raise NeedsAnswer(entry)
    if (
        isinstance(meaning, say.WorkingDistance)
        and meaning.eye is not None
        and isinstance(entry, DistanceEntry)
    ):
        return _distance_of_eyes(state, entry, eyes_meant(state, meaning.eye), name)
    if isinstance(meaning, say.WorkingLens) and meaning.throughout and isinstance(entry, WorkingLensEntry):
        return _lens_of_readings(state, meaning, entry, context, name)
    changes: list[Change] = [Put(id=name, entry=entry)]
    words = entry.words()
    if isinstance(entry, DistanceEntry | WorkingLensEntry):
        changes += _completed_readings(state, entry, context, name)
        words += _said_of_readings(state, entry, completed=len(changes) - 1)
    if isinstance(entry, EyeEntry):
        words += _said_of_eye(state, entry, name)
    if isinstance(entry, ReadingEntry):
        words += _said_of_reading(state.eyes[entry.eye], entry)
        followers = _stayed_elsewhere(state, entry, context, name)
        changes += followers
        words += "".join(f"; with it {each.entry.words()}" for each in followers)
    if isinstance(entry, BaseFinding):
        words += _said_of_finding(state, entry)
    return Act(changes=tuple(changes), words=words)


def _which_comes_out(state: ExamState, meaning: say.Meaning) -> None:
    """Ask which lens, where "take it out" follows on the working distance lens. Raises NeedsAnswer."""
    if not isinstance(meaning, say.Lenses) or meaning.remove != "lens" or not state.ledger.live:
        return
    newest = state.ledger.live[-1].entry
    if isinstance(newest, WorkingLensEntry) and newest.position == "in":
        text = "working distance lens out? If another is meant, say lenses out or cylinder out"
        out = say.WorkingLens(position="out")
        raise NeedsAnswer(Question(missing="confirm", text=text, candidate=out, doubt=COMES_OUT))


def _stayed_elsewhere(state: ExamState, entry: ReadingEntry, context: Context, name: str) -> list[Replace]:
    """Readings in which a lens stayed from the one that this takes the place of, with the new lens, after a yes.

    Said again, a reading may be measured anew, or put right: then its lens was another one wherever it stayed. One that
    names no lens is a look through those that were changed before it. Raises NeedsAnswer until it is known which.
    """
    if isinstance(context.meaning, say.Reading) and context.meaning.lens is None:
        return []
    eye = state.eyes[entry.eye]
    instead = _instead_of(eye, entry)
    if instead is None or instead.meridian_deg != entry.meridian_deg:
        return []
    found = [
        Replace(id=each.id, entry=follower)
        for each in state.ledger.live
        if isinstance(each.entry, ReadingEntry)
        and (follower := following(each.entry, instead.id, instead.entry, entry, renamed=name)) is not None
    ]
    if not found:
        return []
    stayed = "; ".join(state.ledger.rows[each.id].entry.words() for each in found)
    return found if context.there_too(f"its lens stayed in {stayed}: does it change there too?") else []


def readings_of(state: ExamState) -> Iterator[TakenReading]:
    """Every reading of both eyes and all passes."""
    for eye in state.eyes.values():
        for each in eye.passes:
            yield from each.readings


def with_allowance(taken: TakenReading, allowance: Allowance, said_by: str | None) -> Replace:
    """A reading taken from another distance, or with the lens in or out."""
    return Replace(id=taken.id, entry=taken.entry.with_changes(allowance=allowance, distance_from=said_by))


def _completed_readings(
    state: ExamState, entry: DistanceEntry | WorkingLensEntry, context: Context, name: str
) -> Iterator[Replace]:
    """Readings that were taken before any distance was said get the first one.

    Where another was said and not understood, it is asked whether they do. Raises NeedsAnswer.
    """
    lacking = [
        taken
        for taken in readings_of(state)
        if taken.allowance.distance_cm is None
        and not taken.allowance.lens_in
        and counts_for(entry, taken.entry.eye)
    ]
    if lacking and context.distance_unclear:
        before = _counted(len(lacking))
        if not context.there_too(f"{entry.words()}: does it hold for the {before} before as well?"):
            return
    for taken in lacking:
        if isinstance(entry, DistanceEntry):
            yield with_allowance(taken, Allowance(distance_cm=entry.distance_cm), name)
        elif entry.position == "in" and state.distance_cm is None and entry.power_d:
            distance_cm = entry.allowance(Allowance()).distance_cm
            yield with_allowance(taken, Allowance(distance_cm=distance_cm), name)


def _said_of_readings(state: ExamState, entry: DistanceEntry | WorkingLensEntry, completed: int) -> str:
    """Which readings a distance or lens counts for, where some were taken before."""
    if completed:
        return f", for the {_counted(completed)} before as well"
    kept = [
        taken
        for taken in readings_of(state)
        if counts_for(entry, taken.entry.eye) and taken.allowance != _after(state.allowance, entry)
    ]
    if not kept:
        return ""
    stay = "stays as it is" if len(kept) == 1 else "stay as they are"
    return f" from here on; the {_counted(len(kept))} before {stay}"


def _after(before: Allowance, entry: DistanceEntry | WorkingLensEntry) -> Allowance:
    if isinstance(entry, WorkingLensEntry):
        return entry.allowance(before)
    return before.model_copy(update={"distance_cm": entry.distance_cm})


def _counted(number: int) -> str:
    return "reading" if number == 1 else f"{number} readings"


def _distance_of_eyes(state: ExamState, entry: DistanceEntry, eyes: tuple[say.OneEye, ...], name: str) -> Act:
    """ "The left eye was from fifty": the readings of that eye; where it has none, those that it will have."""
    changes: list[Change] = []
    if not any(taken.entry.eye in eyes for taken in readings_of(state)):
        of_one = entry if len(eyes) != 1 else entry.with_changes(eye=eyes[0])
        return Act(changes=(Put(id=name, entry=of_one),), words=of_one.words())
    for taken in readings_of(state):
        if taken.entry.eye in eyes:
            allowance = taken.allowance.model_copy(update={"distance_cm": entry.distance_cm})
            changes.append(with_allowance(taken, allowance, taken.entry.distance_from))
    return Act(
        changes=tuple(changes),
        words=f"{' and '.join(eyes)} eye: {_counted(len(changes))} from {written_cm(entry.distance_cm)}",
    )


def _lens_of_readings(
    state: ExamState, meaning: say.WorkingLens, entry: WorkingLensEntry, context: Context, name: str
) -> Act:
    """ "It was in the whole time": the readings before as well, of the eyes that are meant."""
    what = f"{entry.words()} for the readings before"
    eyes = eyes_meant(state, meaning.eye, context=context, what=what)
    if meaning.power is not None and meaning.power.sign is None and context.answered("scope") is None:
        context.confirm("unsigned_lens", f"{what}: is it so?")
    changes: list[Change] = [Put(id=name, entry=entry)]
    for taken in readings_of(state):
        if taken.entry.eye in eyes:
            changes.append(with_allowance(taken, entry.allowance(taken.allowance), taken.entry.distance_from))
    return Act(
        changes=tuple(changes),
        words=f"{entry.words()}, for the {_counted(len(changes) - 1)} of the {' and '.join(eyes)} eye as well",
    )


def _said_of_eye(state: ExamState, entry: EyeEntry, name: str) -> str:
    """The working distance, where one eye has its own and it is another one than before."""
    distance_cm = state.standing.after(name, entry).allowance.distance_cm
    if distance_cm is None or distance_cm == state.distance_cm:
        return ""
    return f", working distance {written_cm(distance_cm)}"


def _said_of_reading(eye: EyeState, entry: ReadingEntry) -> str:
    """What a reading takes the place of, and what it takes out of the frame."""
    words = ""
    instead = _instead_of(eye, entry)
    if instead is not None:
        plain = instead.lenses.cylinder is None and entry.lenses.cylinder is None
        words += f", instead of {written_power(instead.gross_d) if plain else instead.lenses.words()}"
        if instead.meridian_deg != entry.meridian_deg:
            words += f" along {instead.meridian_deg:03d}"
    if eye.passes and not eye.in_hand.holds(entry):
        words += f"; pass {entry.pass_number}, {entry.condition}"
    if eye.in_place.lenses.cylinder is not None and entry.lenses.cylinder is None:
        words += "; the cylinder is out"
    return words


def _said_of_finding(state: ExamState, entry: BaseFinding) -> str:
    """The finding that a new one takes the place of, where it had another value."""
    if isinstance(entry, DarkEntry):
        before: BaseFinding | None = state.near[entry.eye].replaced_by(entry)
    else:
        before = None if entry.slot is None else state.findings.slot(entry.slot)
    if before is None or before.value_words() == entry.value_words():
        return ""
    return f", instead of {before.value_words()}"


def _instead_of(eye: EyeState, entry: ReadingEntry) -> TakenReading | None:
    """The neutral reading of its pass that a neutral one takes the place of."""
    if entry.motion != "neutral":
        return None
    return standing_at(eye, entry.meridian_deg, entry.pass_number, entry.condition)


def standing_at(eye: EyeState, meridian_deg: int, number: int, condition: Dryness) -> TakenReading | None:
    """The neutral reading that stands for a meridian, or for one within ten degrees of it; the nearest."""
    of_pass = next(
        (each for each in eye.passes if (each.number, each.condition) == (number, condition)), None
    )
    if of_pass is None:
        return None
    near = [(abs(axis_difference_deg(each.meridian_deg, meridian_deg)), each) for each in of_pass.neutral]
    within = [pair for pair in near if pair[0] <= BELONGS_DEG]
    return min(within, key=lambda pair: pair[0])[1] if within else None
