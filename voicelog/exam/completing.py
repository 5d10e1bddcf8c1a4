"""Walking over the powers inside a meaning: finding what is missing, and putting in what was answered."""

from collections.abc import Callable, Iterator

from voicelog.phrases import meanings as say


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


def with_first_gap_filled(meaning: say.Meaning, power: say.Power) -> say.Meaning:
    """The meaning with its first power that lacks sign or size replaced."""
    filled = False

    def fill(old: say.Power) -> say.Power:
        nonlocal filled
        if filled or old.dioptres is not None:
            return old
        filled = True
        return power

    return _mapped(meaning, fill)


def with_axis(meaning: say.Meaning, axis_deg: int) -> say.Meaning:
    """The meaning with the axis of its cylinder (or its loose axis) put in."""
    if isinstance(meaning, say.LooseAxis | say.Cylinder):
        return meaning.model_copy(update={"axis_deg": axis_deg})  # type: ignore[return-value]
    changes = {
        name: with_axis(value, axis_deg)  # type: ignore[arg-type]
        for name in type(meaning).model_fields
        if isinstance(value := getattr(meaning, name), say.Model)
        and not isinstance(value, say.Power | say.Where)
    }
    return meaning.model_copy(update=changes)


def _mapped(model: say.Meaning, change: Callable[[say.Power], say.Power]) -> say.Meaning:
    changes: dict[str, say.Model] = {}
    for name in type(model).model_fields:
        value = getattr(model, name)
        if isinstance(value, say.Power):
            changes[name] = change(value)
        elif isinstance(value, say.Model):
            changes[name] = _mapped(value, change)  # type: ignore[arg-type]
    return model.model_copy(update=changes)
