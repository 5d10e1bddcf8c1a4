"""Walking over the parts of a meaning, whatever its kind."""

from collections.abc import Iterator
from typing import TypeVar

from voicelog.phrases.meanings import Model

Part = TypeVar("Part", bound=Model)


def parts(model: Model, kind: type[Part]) -> Iterator[Part]:
    """Every part of one kind (`Power`, `Cylinder`, `Where`) inside a meaning, in the order of its fields."""
    if isinstance(model, kind):
        yield model
        return
    for name in type(model).model_fields:
        value = getattr(model, name)
        if isinstance(value, Model):
            yield from parts(value, kind)


def angles(model: Model) -> Iterator[int]:
    """Every axis and named place inside a meaning, in degrees."""
    for name in type(model).model_fields:
        value = getattr(model, name)
        if name in ("axis_deg", "angle_deg") and value is not None:
            yield value
        elif isinstance(value, Model):
            yield from angles(value)
