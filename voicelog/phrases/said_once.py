"""What a breath says in two pieces and means as one: an eye named twice, a swap, a cylinder and its sphere, an axis."""

from collections.abc import Sequence

from voicelog.phrases import meanings as say
from voicelog.phrases.meanings import Meaning

_WITH_LENS = (say.Refined, say.Spectacles, say.Lenses)


def said_once(said: Sequence[Meaning]) -> tuple[Meaning, ...]:
    """The meanings of a breath, with what belongs together joined.

    "I mixed up the eyes, swap right and left" is one swap: a second would undo it. "Other side, left eye" names one
    eye. In "subjective left cylinder minus one axis five, sphere plus two" the sphere is of the same lens: by itself
    it would be a lens before the eye. "Correction, right eye axis eighty" puts the axis of that eye right, and moves
    nothing there. "Not quite, still a touch of with" is one look. "OD vertical, I mean OS vertical, plus one" is of the
    left eye and moves nothing: nothing was read of the eye that was named first.
    """
    kept: list[Meaning] = []
    for each in said:
        if isinstance(each, say.Swap) and each in kept:
            continue
        if (eye := _eye_instead(each)) is not None and (at := _named_for_nothing(kept)) is not None:
            kept[at] = eye
            continue
        if kept and isinstance(each, say.Eye) and _is_named_again(kept[-1], each):
            kept[-1] = each
        elif kept and (whole := _with_its_sphere(kept[-1], each)) is not None:
            kept[-1] = whole
        elif kept and _is_told_by(kept[-1], each):
            kept[-1] = each
        elif kept and (axis := _axis_of_eye(kept[-1], each)) is not None:
            kept[-1] = axis
        else:
            kept.append(each)
    return tuple(kept)


def _eye_instead(said: Meaning) -> say.Eye | None:
    """The eye of "I mean OS"."""
    if not isinstance(said, say.Correction) or said != say.Correction(entry=said.entry):
        return None
    return said.entry if isinstance(said.entry, say.Eye) else None


def _named_for_nothing(kept: Sequence[Meaning]) -> int | None:
    """Where an eye was named last, if nothing but places was said since; else None."""
    since = [isinstance(each, say.Place) for each in kept]
    while since and since[-1]:
        since.pop()
    return len(since) - 1 if since and isinstance(kept[len(since) - 1], say.Eye) else None


def _is_named_again(before: Meaning, eye: say.Eye) -> bool:
    """Whether an eye was named just before by its side alone, or as the other one."""
    if not isinstance(before, say.Eye) or eye.eye not in ("right", "left"):
        return False
    # "Right" before anything is mostly "now then": "right, let's take the left eye".
    return before.eye in (eye.eye, "other") or (before.eye == "right" and before.side_only)


def _is_told_by(before: Meaning, look: Meaning) -> bool:
    """Whether a look that is not neutral is told in full by what follows: with, or against."""
    if not isinstance(before, say.Reading) or not isinstance(look, say.Reading):
        return False
    bare = all(each.where is None and each.lens is None and each.between is None for each in (before, look))
    return bare and before.motion == "not_neutral" and look.motion in ("with", "against")


def _axis_of_eye(before: Meaning, axis: Meaning) -> say.Correction | None:
    """An axis that is put right in the eye that was named first; None where the two are not that."""
    if not isinstance(before, say.Correction) or not isinstance(before.entry, say.Eye):
        return None
    if not isinstance(axis, say.LooseAxis) or before.entry.eye not in ("right", "left"):
        return None
    return before.model_copy(update={"entry": axis, "eye": before.entry.eye})


def _with_its_sphere(before: Meaning, sphere: Meaning) -> Meaning | None:
    """A lens of which the cylinder was said first, whole; None where the two are not of one lens."""
    if not isinstance(before, _WITH_LENS) or not isinstance(sphere, say.Lenses):
        return None
    first, then = before.lens, sphere.lens
    if first is None or then is None or first.on_top or then.on_top or sphere.instead_of is not None:
        return None
    if first.sphere is not None or first.cylinder is None or then.sphere is None or then.cylinder is not None:
        return None
    return before.model_copy(update={"lens": first.model_copy(update={"sphere": then.sphere})})
