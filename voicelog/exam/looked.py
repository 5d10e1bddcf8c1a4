"""What is said shorter because it was said before: a lens that was looked through, the place of a reading put right."""

from collections.abc import Sequence

from voicelog.exam.entries import ReadingEntry
from voicelog.exam.state import ExamState
from voicelog.optics import meridian_to_streak_deg
from voicelog.phrases import meanings as say

_SAME_D = 1e-6


def with_sign_of_looks(state: ExamState, meaning: say.Meaning) -> say.Meaning:
    """The reading with the sign of the one lens of that size that was tried in the meridian in hand.

    As it was where none was, or lenses of both signs: then the sign is asked.
    """
    if not isinstance(meaning, say.Reading) or not meaning.taken or state.eye is None:
        return meaning
    sphere = None if meaning.lens is None else meaning.lens.sphere
    if sphere is None or sphere.size_d is None or sphere.sign is not None:
        return meaning
    eye = state.eyes[state.eye]
    tried = {
        each.lenses.sphere_d
        for each in eye.readings
        if each.meridian_deg == eye.meridian_deg
        and each.lenses.sphere_d is not None
        and abs(abs(each.lenses.sphere_d) - sphere.size_d) < _SAME_D
    }
    if len(tried) != 1:
        return meaning
    lens = say.Lens(sphere=sphere.with_sign(1 if tried.pop() > 0 else -1))
    return meaning.model_copy(update={"lens": lens})


def with_naming_of_the_last(state: ExamState, meanings: Sequence[say.Meaning]) -> list[say.Meaning]:
    """What puts the last reading right, with its naming, where it is named by the same angle and the habit is in doubt.

    "Meridian one eighty plus five", "scratch that, one eighty is plus six": it is the meridian again.
    """
    todo = list(meanings)
    last = state.ledger.live[-1].entry if state.ledger.live else None
    if state.standing.habit_said or not isinstance(last, ReadingEntry):
        return todo
    angle_deg = last.meridian_deg if last.named == "meridian" else meridian_to_streak_deg(last.meridian_deg)

    def named(said: say.Meaning) -> say.Meaning:
        if isinstance(said, say.Correction):
            return said.model_copy(update={"entry": named(said.entry)})
        where = said.where if isinstance(said, say.Reading) else None
        if where is None or where.names is not None or where.angle_deg != angle_deg:
            return said
        return said.model_copy(update={"where": where.model_copy(update={"names": last.named})})

    if todo and isinstance(todo[0], say.Correction):
        return [named(todo[0]), *todo[1:]]
    if len(todo) > 1 and todo[0] in (say.Scratch(), say.Answer(answer="no")):
        return [todo[0], named(todo[1]), *todo[2:]]
    return todo
