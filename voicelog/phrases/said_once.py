"""What a breath says in two pieces and means as one: an eye named twice, a swap, a cylinder and its sphere, an axis."""

from collections.abc import Sequence

from voicelog.phrases import meanings as say
from voicelog.phrases.meanings import Meaning

_WITH_LENS = (say.Refined, say.Spectacles, say.Lenses)
_PARTS = (say.LooseAxis, say.LoosePower, say.LooseSign)


def said_once(said: Sequence[Meaning]) -> tuple[Meaning, ...]:
    """The meanings of a breath, with what belongs together joined.

    "I mixed up the eyes, swap right and left" is one swap: a second would undo it. "Other side, left eye" names one
    eye. In "subjective left cylinder minus one axis five, sphere plus two" the sphere is of the same lens: by itself
    it would be a lens before the eye. "Correction, right eye axis eighty" puts the axis of that eye right, and moves
    nothing there. "Not quite, still a touch of with" is one look. "OD vertical, I mean OS vertical, plus one" is of the
    left eye and moves nothing: nothing was read of the eye that was named first. "With plus two fifty I see against"
    is against motion through that lens.
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
        elif kept and _says_neutral_again(kept[-1], each):
            continue
        elif kept and (near := _near_at(kept[-1], each)) is not None:
            kept[-1:] = near
        elif kept and (part := _part_of_eye(kept[-1], each)) is not None:
            kept[-1] = part
        elif (look := _through_lens(kept, each)) is not None:
            del kept[_lens_named(kept)]
            kept.append(look)
        else:
            kept.append(each)
    return _distances_of_eyes(_without_right(kept))


def _without_right(said: Sequence[Meaning]) -> Sequence[Meaning]:
    """ "Right, I'm back, carry on" names no eye."""
    match said:
        case [say.Eye(eye="right", side_only=True), *orders] if orders:
            return orders if all(isinstance(each, say.Plain) for each in orders) else said
    return said


def _distances_of_eyes(said: Sequence[Meaning]) -> tuple[Meaning, ...]:
    """ "Right eye at sixty seven, left eye at fifty" tells how far each is, and goes to neither."""
    match said:
        case [
            say.Eye(eye=one),
            say.WorkingDistance(eye=None) as of_one,
            say.Eye(eye=other),
            say.WorkingDistance(eye=None) as of_other,
        ] if one != other:
            return (
                of_one.model_copy(update={"eye": one}),
                of_other.model_copy(update={"eye": other}),
            )
    return tuple(said)


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


def _says_neutral_again(before: Meaning, look: Meaning) -> bool:
    """ "Plus one does it, neutral"."""
    neutral = isinstance(before, say.Reading) and before.motion == "neutral" and before.between is None
    return neutral and look == say.Reading(motion="neutral")


def _near_at(before: Meaning, distance: Meaning) -> tuple[Meaning, ...] | None:
    """What was found near, and how near: "N5 at 40 cm" says nothing of where the retinoscope is; None for others."""
    if not isinstance(distance, say.WorkingDistance) or distance.eye is not None:
        return None
    at = {"at_cm": distance.distance_cm}
    match before:
        case say.Acuity(value=say.AcuityValue(is_near=True, at_cm=None) as value):
            return (before.model_copy(update={"value": value.model_copy(update=at)}),)
        case say.Addition(near=say.AcuityValue(at_cm=None) as value):
            return (before.model_copy(update={"near": value.model_copy(update=at)}),)
        case say.Addition() | say.Deviation(at="near"):
            return (before, say.Note(text=f"at {distance.distance_cm:g} cm"))
    return None


def _part_of_eye(before: Meaning, part: Meaning) -> say.Correction | None:
    """An axis or another part that is put right in the eye that was named first; None where the two are not that."""
    eye = _eye_instead(before)
    if eye is None or eye.eye not in ("right", "left"):
        return None
    if isinstance(part, say.Correction) and part.eye is None and isinstance(part.entry, _PARTS):
        return part.model_copy(update={"eye": eye.eye})
    return say.Correction(entry=part, eye=eye.eye) if isinstance(part, say.LooseAxis) else None


def _lens_named(kept: Sequence[Meaning]) -> int:
    """Where what was said before the last eye begins."""
    return -2 if len(kept) > 1 and isinstance(kept[-1], say.Eye) else -1


def _through_lens(kept: Sequence[Meaning], look: Meaning) -> say.Reading | None:
    """ "With plus two fifty in the left I see against": the first "with" is no motion; None where it may be one."""
    before = kept[_lens_named(kept)] if kept else None
    if not isinstance(before, say.Reading) or not isinstance(look, say.Reading):
        return None
    lens = before.lens
    if lens is None or before != say.Reading(motion="with", lens=lens) or look.motion == "with":
        return None
    if look.where is not None or look.between is not None or look.lens not in (None, lens):
        return None
    return look.model_copy(update={"lens": lens})


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
