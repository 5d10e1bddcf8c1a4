"""Numbers, powers, places and lenses from the values of the tags."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Literal

from voicelog.phrases.meanings import Cylinder, Lens, Power, Where
from voicelog.phrases.tags import Value, as_mapping

Record = Mapping[str, Value]

_SIGN: Mapping[Value, Literal[1, -1]] = {"plus": 1, "minus": -1}
_TURN: Mapping[Value, Literal[1, -1]] = {"more": 1, "less": -1}


def as_power(value: Value) -> Power:
    """A power as it was said, with or without its sign."""
    record = as_mapping(value)
    size = record["magnitude"]
    return Power(
        size_d=float(size) if isinstance(size, Decimal) else None,
        sign=_SIGN.get(record.get("sign")) if size != 0 else None,
        spelled="spelled" in record,
    )


def as_span(record: Record) -> tuple[Power, Power]:
    """Both ends; a sign said with one of them alone is that of both ("two to two and a half plus")."""
    ends = as_power(record["from"]), as_power(record["to"])
    signs = {end.sign for end in ends if end.sign is not None}
    sign = signs.pop() if len(signs) == 1 else None
    return ends if sign is None else (_signed(ends[0], sign), _signed(ends[1], sign))


def _signed(power: Power, sign: Literal[1, -1]) -> Power:
    return power.with_sign(sign) if power.sign is None and power.size_d else power


def as_place(value: Value) -> Where:
    """A place as it was named."""
    record = as_mapping(value)
    angle = as_degrees(record["angle"]) if "angle" in record else None
    return Where.model_validate({"names": record.get("names"), "angle": angle, "which": record.get("which")})


def as_lens(record: Record) -> Lens:
    """The lenses that the parts of a record name."""
    if "same" in record:
        return Lens(same=True)
    if "turn" in record:
        return Lens(sphere=_turned(record), on_top=True)
    cylinder = None
    axis = as_degrees(record["axis"]) if "axis" in record else None
    if "as_cylinder" in record:
        return Lens(cylinder=Cylinder(power=as_power(record["sphere"]), axis=axis))
    if "second" in record:
        cylinder = Cylinder(power=as_power(record["second"]), axis=axis)
    elif "cylinder" in record:
        parts = as_mapping(record["cylinder"])
        axis = as_degrees(parts["axis"]) if "axis" in parts else None
        cylinder = Cylinder(power=as_power(parts["power"]), axis=axis)
    sphere = as_power(record["sphere"]) if "sphere" in record else None
    if "sphere_zero" in record:
        sphere = Power(size_d=0.0, sign=None)
    if "stacked" in record and sphere is not None:
        sphere = _sum(sphere, as_power(record["stacked"]))
    return Lens(sphere=sphere, cylinder=cylinder, on_top="on_top" in record)


def _turned(record: Record) -> Power:
    """A step up or down. With a sign of its own it is what it says; "less plus" and the like are left open."""
    by = as_power(record["sphere"])
    turn = _TURN.get(record.get("turn"))
    of = _SIGN.get(record.get("of"))
    if by.sign is not None:
        return by if turn == 1 and of in (None, by.sign) else Power(size_d=by.size_d, sign=None)
    if turn is None or not by.size_d:
        return by
    return by.with_sign(turn if of in (None, 1) else -turn)


def _sum(one: Power, other: Power) -> Power:
    if one.dioptres is None or other.dioptres is None:
        return Power(size_d=None, sign=None)
    total = one.dioptres + other.dioptres
    return Power(size_d=abs(total), sign=None if total == 0 else 1 if total > 0 else -1)


def claimed_lens(record: Record) -> Lens:
    """A net result: sphere, cylinder and axis."""
    cylinder = Cylinder(power=as_power(record["net_cylinder"]), axis=as_degrees(record["net_axis"]))
    return Lens(sphere=as_power(record["net_sphere"]), cylinder=cylinder)


def as_number(value: Value) -> Decimal:
    """A number. Raises ValueError for what is none."""
    if not isinstance(value, Decimal):
        raise ValueError(f"{value!r} is not a number")
    return value


def as_degrees(value: Value) -> int:
    """An angle in whole degrees, 0 as 180. Raises ValueError for what is none."""
    number = as_number(value)
    if number != int(number):
        raise ValueError(f"an angle must be a whole number of degrees, not {value!r}")
    return 180 if number == 0 else int(number)
