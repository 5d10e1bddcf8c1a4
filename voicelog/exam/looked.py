"""A lens that is named as one that was looked through: "I'll take three and a quarter"."""

from voicelog.exam.state import ExamState
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
