"""Gaps in what was said: a power without sign or size. Finding the first, and putting in what was answered."""

from collections.abc import Iterator
from typing import Final, TypeVar

from voicelog.exam.questions import Question
from voicelog.phrases import meanings as say

Said = TypeVar("Said", bound=say.Model)

SPELLED: Final = "spelled"
"""The doubt whether a power that was said digit by digit was meant as one number."""
# A power that only names what was wrong is looked for by its size; nothing is entered from it.
_ONLY_NAMES = ("wrong", "instead_of")


def powers(model: say.Model) -> Iterator[say.Power]:
    """Every power inside a meaning that would be entered, in the order of its fields."""
    for name in type(model).model_fields:
        value = getattr(model, name)
        if name in _ONLY_NAMES:
            continue
        if isinstance(value, say.Power):
            yield value
        elif isinstance(value, say.Model):
            yield from powers(value)


def first_gap(meaning: say.Meaning, settled: tuple[str, ...] = ()) -> Question | None:
    """What must be asked before a meaning holds all its numbers; None when it does."""
    if isinstance(meaning, say.SameDistance):
        text = "nothing was read of the other eye: which working distance?"
        return Question(missing="distance", text=text, candidate=meaning)
    if _sign_is_held(meaning):
        return None
    for power in powers(meaning):
        if power.size_d is None:
            return Question(
                missing="size", text="the power was not clear: say it again, with its sign", candidate=meaning
            )
        if power.dioptres is None:
            return Question(missing="sign", text=f"{power.size_d:.2f}: plus or minus?", candidate=meaning)
        if power.spelled and SPELLED not in settled:
            text = f"{power.dioptres:+.2f}: is it right?"
            return Question(missing="confirm", text=text, candidate=meaning, doubt=SPELLED)
    return None


def _sign_is_held(meaning: say.Meaning) -> bool:
    """Whether the entry that it names by its wrong power, without a sign, or the lens itself has the sign.

    Where a sign alone is put right the entry has the size.
    """
    if isinstance(meaning, say.Change):
        if meaning.power.size_d is None and meaning.power.sign is not None:
            return True
        wrong = meaning.wrong
        return wrong is not None and wrong.sign is None and None not in (wrong.size_d, meaning.power.size_d)
    # A lens that stands in for the distance is a plus lens; it is named with its sign, and a yes wanted.
    lens = meaning.power if isinstance(meaning, say.WorkingLens) and meaning.throughout else None
    return lens is not None and lens.size_d is not None


def with_first_gap_filled(meaning: Said, power: say.Power) -> Said:
    """The meaning with its first power that lacks sign or size replaced."""
    return _replaced(meaning, power, only_gaps=True)[0]


def with_power(meaning: Said, power: say.Power) -> Said | None:
    """The meaning with its only power replaced; None when it has none, or more than one."""
    if len(list(powers(meaning))) != 1:
        return None
    return _replaced(meaning, power, only_gaps=False)[0]


def _replaced(model: Said, power: say.Power, *, only_gaps: bool) -> tuple[Said, bool]:
    """The model with one power replaced, and whether one was."""
    for name in type(model).model_fields:
        value = getattr(model, name)
        if name in _ONLY_NAMES:
            continue
        if isinstance(value, say.Power) and (not only_gaps or value.dioptres is None):
            return model.model_copy(update={name: power}), True
        if isinstance(value, say.Model) and not isinstance(value, say.Power):
            inner, done = _replaced(value, power, only_gaps=only_gaps)
            if done:
                return model.model_copy(update={name: inner}), True
    return model, False


def with_axis(meaning: Said, axis_deg: int) -> Said:
    """The meaning with the axis of its cylinder (or its loose axis) put in."""
    if "axis_deg" in type(meaning).model_fields:
        return meaning.model_copy(update={"axis_deg": axis_deg})
    parts = {name: getattr(meaning, name) for name in type(meaning).model_fields}
    changes = {
        name: with_axis(part, axis_deg)
        for name, part in parts.items()
        if isinstance(part, say.Model) and not isinstance(part, say.Power | say.Where)
    }
    return meaning.model_copy(update=changes)


def with_where(meaning: Said, where: say.Where) -> Said | None:
    """The meaning with another place; None when it has none."""
    if "where" in type(meaning).model_fields:
        return meaning.model_copy(update={"where": where})
    entry = getattr(meaning, "entry", None)
    inner = with_where(entry, where) if isinstance(entry, say.Model) else None
    return None if inner is None else meaning.model_copy(update={"entry": inner})


def angles(model: say.Model) -> Iterator[int]:
    """Every axis and named place inside a meaning, in degrees."""
    for name in type(model).model_fields:
        value = getattr(model, name)
        if name in ("axis_deg", "angle_deg") and value is not None:
            yield value
        elif isinstance(value, say.Model):
            yield from angles(value)
