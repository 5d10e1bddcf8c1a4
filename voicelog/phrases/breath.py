"""What is said in one breath: an eye behind the entries it belongs to, and what is put right before the breath ends."""

from collections.abc import Mapping, Sequence
from typing import Literal

from voicelog.phrases import meanings as say
from voicelog.phrases.meanings import Lens, Meaning, Model, Power


class LineEye(Model):
    """The eye of what was said before it in this breath ("with movement in the right eye")."""

    eye: say.EyeNamed


class LineNames(Model):
    """What the bare directions of this breath named, said behind them ("meridians again")."""

    names: say.Naming


class LineAbout(Model):
    """The reading before it in this breath is not exact ("minus one and a half, approximate")."""

    about: bool


Part = Meaning | LineEye | LineNames | LineAbout


def joined(parts: Sequence[Part]) -> tuple[Meaning, ...]:
    """The meanings of one breath, in order.

    An eye at the end goes to the entries before it that name none, or before lenses put in. A correction right behind
    the entry that it puts right becomes one with it; a number put right without a sign keeps the sign it had.
    """
    meanings: list[Meaning] = []
    for at, part in enumerate(parts, start=1):
        if isinstance(part, LineAbout):
            meanings = [*meanings[:-1], *(_about(each) for each in meanings[-1:])]
            continue
        if isinstance(part, LineNames):
            meanings = [_with_names(each, part.names) for each in meanings]
            continue
        if isinstance(part, say.Eye):
            beside = part.beside and at == len(parts) and meanings
            if beside or (part.eye in ("right", "left") and _is_place_alone(meanings)):
                meanings = _of_eye(meanings, part.eye)  # "vertical, right eye": the place is one of that eye
                continue
            part = part.model_copy(update={"beside": False})
        if isinstance(part, LineEye):
            meanings = _of_eye(meanings, part.eye)
            continue
        if isinstance(part, say.Eye) and meanings and isinstance(meanings[-1], say.Pass):
            meanings.insert(-1, part)  # "one more pass on the left" is a pass of the left eye
            continue
        if meanings and part == meanings[-1] and _is_said_again(part):
            continue
        if isinstance(part, say.Tell) and (asked := _eye_alone(meanings)):
            meanings.pop()
            part = _with_eye(part, asked)  # "OS, what have I got" asks, and goes on with no eye
        one = _together(meanings[-1], part) if meanings else None
        if one is None:
            meanings.append(part)
        else:
            meanings[-1] = one
    return _with_the_same_correction(_named_alike(_without_begin(meanings)))


def _eye_alone(meanings: Sequence[Meaning]) -> Literal["right", "left"] | None:
    """The one eye that was said, where nothing else was."""
    match meanings:
        case [say.Eye(eye="right" | "left" as eye)]:
            return eye
        case _:
            return None


def _without_begin(meanings: list[Meaning]) -> list[Meaning]:
    """ "Right eye, we begin" names the eye: beside one, "begin" tells nothing."""
    if not any(isinstance(each, say.Eye) for each in meanings):
        return meanings
    return [each for each in meanings if not (isinstance(each, say.Plain) and each.kind == "start")]


def _of_eye(meanings: list[Meaning], eye: say.EyeNamed) -> list[Meaning]:
    """What was said before an eye, as of that eye.

    No lens goes in before one eye that was said of the other, and no place is gone to.
    """
    if eye == "both" and meanings and isinstance(meanings[-1], say.Tell):
        return meanings  # without an eye both are told
    with_eye = [_with_eye(each, eye) for each in meanings]
    if with_eye != meanings:
        return with_eye
    match meanings:
        case [say.LooseWhere(where=say.Where(which=None) as where)]:
            return [say.Eye(eye=eye), say.Place(where=where)]
        case [say.Place()]:
            return [say.Eye(eye=eye), *meanings]
    return (
        [say.Eye(eye=eye), *meanings]
        if all(map(_is_of_eye_in_hand, meanings))
        else [*meanings, say.Eye(eye=eye)]
    )


def _is_of_eye_in_hand(each: Meaning) -> bool:
    """Whether what names no eye of its own can only be of the one that is named behind it."""
    if isinstance(each, say.Lenses):
        return each.lens is not None
    return isinstance(each, say.LooseAxis | say.SameDistance)


def _is_place_alone(meanings: Sequence[Meaning]) -> bool:
    return len(meanings) == 1 and isinstance(meanings[0], say.LooseWhere | say.Place)


def _is_said_again(part: Meaning) -> bool:
    """Whether a meaning that is said twice is meant once ("right eye, right eye first"); a step is taken twice."""
    if isinstance(part, say.Reading):
        return part.lens is None or not part.lens.on_top
    places = say.Eye | say.WorkingDistance | say.Place | say.LooseWhere | say.Condition
    return isinstance(part, places | say.Reflex | say.LooseSign | say.Move | say.Swap | say.Plain)


def _with_the_same_correction(meanings: Sequence[Meaning]) -> tuple[Meaning, ...]:
    """ "Unaided right six nine, left six twelve" is unaided of both eyes."""
    found: list[Meaning] = []
    before: say.Acuity | None = None
    for each in meanings:
        if isinstance(each, say.Acuity):
            if before is not None and each.correction is None and before.eye != each.eye:
                each = each.model_copy(update={"correction": before.correction})
            before = each
        found.append(each)
    return tuple(found)


def _named_alike(meanings: Sequence[Meaning]) -> tuple[Meaning, ...]:
    """A bare place behind one that was named by streak or meridian is named so too.

    Behind a streak that was only laid, the direction across it is that of the power found there.
    """
    named: list[Meaning] = []
    names: say.Naming | None = None
    for before, each in zip((None, *meanings), meanings, strict=False):
        if isinstance(before, say.Place) and isinstance(each, say.Reading):
            each = _across(before.where, each)
        where = each.where if isinstance(each, say.Reading) else None
        if where is not None and isinstance(each, say.Reading):
            if where.names is None and names is not None and where.which is None:
                each = each.model_copy(update={"where": where.model_copy(update={"names": names})})
            names = where.names or names
        named.append(each)
    return tuple(named)


_OTHER_NAME: Mapping[say.Naming, say.Naming] = {"streak": "meridian", "meridian": "streak"}


def _across(laid: say.Where, reading: say.Reading) -> say.Reading:
    where = reading.where
    if where is None or where.names or laid.names is None or not (where.angle_deg and laid.angle_deg):
        return reading
    if abs(where.angle_deg - laid.angle_deg) != 90:
        return reading
    return reading.model_copy(update={"where": where.model_copy(update={"names": _OTHER_NAME[laid.names]})})


def _together(said: Meaning, part: Meaning) -> Meaning | None:
    """Two meanings that are one; None when they are two."""
    match said, part:
        case (
            say.LoosePower(),
            say.Lenses(lens=say.Lens(sphere=None, cylinder=say.Cylinder(), on_top=False) as lens),
        ):
            # Both are of one lens: with its cylinder alone the sphere before it would stay.
            return part.model_copy(update={"lens": lens.model_copy(update={"sphere": said.power})})
        case say.Lenses(lens=say.Lens(sphere=say.Power() as sphere, cylinder=None, on_top=False)), say.Lenses(
            lens=say.Lens(sphere=None, cylinder=say.Cylinder(), on_top=False) as lens
        ) if sphere.sign is None:
            return part.model_copy(update={"lens": lens.model_copy(update={"sphere": sphere})})
        case say.WorkingLens(eye=None) | say.Pupils(eye=None | "both"), say.Eye(eye="both"):
            return said.model_copy(update={"eye": "both"})  # no eye to go on with
        case (
            say.LoosePower(power=Power(sign=1 | -1) as power),
            say.Reading(motion="with" | "against", where=None, lens=None, between=None),
        ):
            return part.model_copy(update={"lens": Lens(sphere=power)})  # "plus two, still with"
        case say.Move(eye="other"), say.Move(eye="right" | "left", where=None):
            return part  # "wrong eye, that one is the left" moves it once
        case say.Eye(), say.Change(eye=None):
            return part.model_copy(update={"eye": said.eye})
        case say.Eye(), say.Correction(entry=say.LooseAxis(), eye=None):
            return part.model_copy(update={"eye": said.eye})
        case say.LooseWhere() | say.Place(), say.Correction(
            entry=say.LoosePower() as right, eye=None, count=1
        ) if not part.all_of_eye:
            # "The vertical must be plus three": of that place, whichever was entered last.
            return say.Change(where=said.where, power=right.power)
        case _, say.Correction():
            return _mended(said, part.entry)
        case _:
            return None


_OF_AN_EYE = (
    say.Reading,
    say.Reflex,
    say.WorkingDistance,
    say.WorkingLens,
    say.Acuity,
    say.Pupils,
    say.Drops,
    say.Correction,
    say.Change,
    say.Tell,
)

_OF_THE_OTHER = (say.Reading, say.Reflex, say.WorkingDistance, say.WorkingLens, say.Correction, say.Change)
"""What may be said of the other eye; the rest names the right or the left one, or both."""


def _with_eye(meaning: Meaning, eye: say.EyeNamed) -> Meaning:
    if eye == "other" and not isinstance(meaning, _OF_THE_OTHER):
        return meaning
    if isinstance(meaning, say.Tell) and meaning.say == "everything" and (eye == "right" or eye == "left"):
        return say.Tell(say=eye)
    of_one = eye != "both" or not isinstance(meaning, say.Tell)
    if isinstance(meaning, say.Scratch) and meaning.count == 1 and (eye == "right" or eye == "left"):
        return meaning.model_copy(update={"eye": eye})  # "delete the vertical of the right eye"
    if isinstance(meaning, _OF_AN_EYE) and meaning.eye is None and of_one:
        return say.MEANING.validate_python({**dict(meaning), "eye": eye})
    return meaning


def _about(meaning: Meaning) -> Meaning:
    return meaning.model_copy(update={"approximate": True}) if isinstance(meaning, say.Reading) else meaning


def _with_names(meaning: Meaning, names: say.Naming) -> Meaning:
    where = meaning.where if isinstance(meaning, say.Reading | say.Place) else None
    if where is None or where.names is not None or where.which is not None:
        return meaning
    return meaning.model_copy(update={"where": where.model_copy(update={"names": names})})


def _mended(said: Meaning, right: say.Correctable) -> Meaning | None:
    """What was said, put right; None when it is no part of it."""
    match said, right:
        case say.Reading() | say.Place(), say.LooseWhere():
            return said.model_copy(update={"where": right.where})
        case say.Place() | say.LooseWhere(), say.Reading():
            return right.model_copy(update={"where": right.where or said.where})
        case say.Reading(motion="neutral", lens=Lens()), say.Reading(motion="not_neutral", lens=Lens()):
            # "Plus three, no, just past it, plus two": which of the two was not neutral is not said.
            return None
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
        case say.LoosePower(), say.LoosePower():
            return say.LoosePower(power=_with_sign_of(right.power, said.power))
        case say.LoosePower(), say.Reading(lens=say.Lens(sphere=say.Power())):
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
    return lens.model_copy(update={"sphere": _with_sign_of(right.power, lens.sphere)})


def _with_sign_of(power: Power, said: Power) -> Power:
    """A power that is put right; without a sign it keeps the one that was said before."""
    return Power(size_d=power.size_d, sign=said.sign) if power.sign is None and power.size_d else power
