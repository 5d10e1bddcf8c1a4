"""Any value of any of our models, made by reflection over its fields, so that no new field is forgotten."""

import types
from datetime import UTC, date, datetime
from functools import cache
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from annotated_types import Ge, Le, MinLen
from hypothesis import strategies as st
from pydantic.fields import FieldInfo

from voicelog.exam.entries import CylinderLens
from voicelog.phrases.meanings import Model, Power, Where

# Everything that Unicode has, lone surrogates too: a command line's argument can hold them.
TEXTS = st.text(st.characters(exclude_categories=()), max_size=40)
NUMBERS = st.floats(allow_nan=False, allow_infinity=False)
WHOLE = st.integers(-(2**53), 2**53)
TIMES = st.datetimes(datetime(1970, 1, 2), datetime(9999, 12, 30), timezones=st.just(UTC))
POWERS = st.builds(
    Power,
    size_d=st.none() | st.floats(0.01, 99, allow_nan=False),
    sign=st.sampled_from([1, -1, None]),
) | st.just(Power(size_d=0.0, sign=None))

# Models that refuse some values of their fields.
CYLINDERS = st.builds(CylinderLens, power_d=NUMBERS.filter(bool), axis_deg=st.integers(1, 180))
NAMINGS = st.sampled_from([None, "streak", "meridian"])
PLACES = st.builds(Where, names=NAMINGS, angle_deg=WHOLE) | st.builds(
    Where, names=NAMINGS, which=st.sampled_from(["other", "both"])
)
OF_THEIR_OWN: dict[type[Model], st.SearchStrategy[Any]] = {
    Power: POWERS,
    CylinderLens: CYLINDERS,
    Where: PLACES,
}


@cache
def models(kind: type[Model]) -> st.SearchStrategy[Any]:
    """Instances of one model."""
    if kind in OF_THEIR_OWN:
        return OF_THEIR_OWN[kind]
    fields = {name: _field(name, field) for name, field in kind.model_fields.items()}
    return st.fixed_dictionaries(fields).map(kind.model_validate)


def _field(name: str, field: FieldInfo) -> st.SearchStrategy[Any]:
    bounds = {type(each): each for each in field.metadata}
    if Ge in bounds or Le in bounds:
        return st.integers(bounds[Ge].ge, bounds[Le].le)
    if name in ("by", "reason", "text") and any("pattern" in repr(each) for each in field.metadata):
        # Where a text must have something in it, pydantic takes no lone surrogates either.
        return st.text(min_size=1, max_size=15).map(lambda text: text + ".")
    return _of(field.annotation, least=bounds[MinLen].min_length if MinLen in bounds else 0)


def _of(annotation: Any, least: int = 0) -> st.SearchStrategy[Any]:
    origin, members = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        bounds = {type(each): each for part in members[1:] for each in getattr(part, "metadata", [part])}
        if Ge in bounds:
            return st.integers(bounds[Ge].ge, bounds[Le].le)
        return _of(members[0])
    if origin in (Union, types.UnionType):
        return st.one_of([_deferred(each) for each in members])
    if origin is Literal:
        return st.sampled_from(members)
    if origin is tuple and members[-1] is not Ellipsis:
        return st.tuples(*map(_of, members))
    if origin is tuple:
        return st.lists(_of(members[0]), min_size=least, max_size=max(2, least)).map(tuple)
    return _plain(annotation)


def _deferred(annotation: Any) -> st.SearchStrategy[Any]:
    """Made when it is drawn from: models hold each other."""
    return st.deferred(lambda: _of(annotation))


def _plain(annotation: Any) -> st.SearchStrategy[Any]:
    simple = {
        str: TEXTS,
        float: NUMBERS,
        int: WHOLE,
        bool: st.booleans(),
        datetime: TIMES,
        date: st.dates(),
        type(None): st.none(),
    }
    if annotation in simple:
        return simple[annotation]
    if isinstance(annotation, type) and issubclass(annotation, Model):
        return st.deferred(lambda: models(annotation))
    raise NotImplementedError(f"no values are known for {annotation!r}: say here how to make them")
