"""What is said in one breath: an eye behind the entries it belongs to, and what is put right before the breath ends."""

from collections.abc import Sequence

from voicelog.phrases import meanings as say
from voicelog.phrases.meanings import Lens, Meaning, Model, Power


class LineEye(Model):
    """The eye of what was said before it in this breath ("with movement in the right eye")."""

    eye: say.EyeNamed


def joined(parts: Sequence[Meaning | LineEye]) -> tuple[Meaning, ...]:
    """The meanings of one breath, in order.

    An eye at the end goes to the entries before it that name none. A correction right behind the entry that it puts
    right becomes one with it; a number put right without a sign keeps the sign it had.
    """
    meanings: list[Meaning] = []
    for part in parts:
        if isinstance(part, LineEye):
            meanings = [_with_eye(each, part.eye) for each in meanings]
            continue
        mended = _mended(meanings[-1], part.entry) if meanings and isinstance(part, say.Correction) else None
        if mended is None:
            meanings.append(part)
        else:
            meanings[-1] = mended
    return tuple(meanings)


_SEEN_IN_AN_EYE = (
    say.Reading,
    say.Reflex,
    say.WorkingDistance,
    say.WorkingLens,
    say.Acuity,
    say.Pupils,
    say.Drops,
)


def _with_eye(meaning: Meaning, eye: say.EyeNamed) -> Meaning:
    if isinstance(meaning, _SEEN_IN_AN_EYE) and meaning.eye is None:
        return say.MEANING.validate_python({**dict(meaning), "eye": eye})
    return meaning


def _mended(said: Meaning, right: say.Correctable) -> Meaning | None:
    """What was said, put right; None when it is no part of it."""
    match said, right:
        case say.Reading(), say.LooseWhere():
            return said.model_copy(update={"where": right.where})
        case say.Reading(), say.Reading():
            return right.model_copy(
                update={
                    "where": right.where or said.where,
                    "lens": right.lens or said.lens,
                    "eye": right.eye or said.eye,
                }
            )
        case say.Reading() | say.Lenses(), say.LoosePower() | say.LooseSign():
            lens = _mended_lens(said.lens, right)
            return None if lens is None else said.model_copy(update={"lens": lens})
        case say.LooseAxis(), say.LooseAxis():
            return right
        case say.Eye(), say.Eye():
            return right
        case say.WorkingDistance(), say.WorkingDistance():
            return right
        case _:
            return None


def _mended_lens(lens: Lens | None, right: say.LoosePower | say.LooseSign) -> Lens | None:
    """The sphere of a lens put right; None when there is none, or when the cylinder may be meant."""
    if lens is None or lens.sphere is None or lens.cylinder is not None:
        return None
    if isinstance(right, say.LooseSign):
        return lens.model_copy(update={"sphere": lens.sphere.with_sign(1 if right.sign == "plus" else -1)})
    power = right.power
    if power.sign is None and power.size_d:
        power = Power(size_d=power.size_d, sign=lens.sphere.sign)
    return lens.model_copy(update={"sphere": power})
