"""Walking over the powers inside a meaning: finding what is missing, and putting in what was answered."""

from collections.abc import Callable, Iterator
from typing import TypeVar

from voicelog.phrases import meanings as say

Said = TypeVar("Said", bound=say.Model)


def powers(model: say.Model) -> Iterator[say.Power]:
    """Every power inside a meaning, in the order of its fields."""
    for name in type(model).model_fields:
        value = getattr(model, name)
        if isinstance(value, say.Power):
            yield value
        elif isinstance(value, say.Model):
            yield from powers(value)


def cylinders(model: say.Model) -> Iterator[say.Cylinder]:
    """Every cylinder inside a meaning."""
    if isinstance(model, say.Cylinder):
        yield model
    for name in type(model).model_fields:
        value = getattr(model, name)
        if isinstance(value, say.Model):
            yield from cylinders(value)


def places(model: say.Model) -> Iterator[say.Where]:
    """Every named place inside a meaning."""
    for name in type(model).model_fields:
        value = getattr(model, name)
        if isinstance(value, say.Where):
            yield value
        elif isinstance(value, say.Model):
            yield from places(value)


def angles(model: say.Model) -> Iterator[int]:
    """Every axis and named place inside a meaning, in degrees."""
    for name in type(model).model_fields:
        value = getattr(model, name)
        if name in ("axis_deg", "angle_deg") and value is not None:
            yield value
        elif isinstance(value, say.Model):
            yield from angles(value)


def with_first_gap_filled(meaning: Said, power: say.Power) -> Said:
    """The meaning with its first power that lacks sign or size replaced."""
    filled = False

    def fill(old: say.Power) -> say.Power:
        nonlocal filled
        if filled or old.dioptres is not None:
            return old
        filled = True
        return power

    return _mapped(meaning, fill)


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


def _mapped(model: Said, change: Callable[[say.Power], say.Power]) -> Said:
    changes: dict[str, say.Model] = {}
    for name in type(model).model_fields:
        value = getattr(model, name)
        if isinstance(value, say.Power):
            changes[name] = change(value)
        elif isinstance(value, say.Model):
            changes[name] = _mapped(value, change)
    return model.model_copy(update=changes)
