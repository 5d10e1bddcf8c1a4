"""From the values that the grammar's tags leave to meanings: one utterance may hold several."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, Literal

from voicelog.phrases.breath import LineAbout, LineEye, LineNames, Part, joined
from voicelog.phrases.meanings import (
    CORRECTABLE_KINDS,
    MEANING,
    Cylinder,
    Lens,
    LooseWhere,
    Meaning,
    Place,
    Power,
    Where,
)
from voicelog.phrases.tags import Several, Value, as_mapping

Record = Mapping[str, Value]

_SIGN: Mapping[Value, Literal[1, -1]] = {"plus": 1, "minus": -1}
_TURN: Mapping[Value, Literal[1, -1]] = {"more": 1, "less": -1}
_CM_OF_FOOT = Decimal("30.48")
_POWERS = ("power", "sphere", "wrong", "right", "addition", "instead_of")
_LENS_PARTS = (
    *("sphere", "second", "axis", "cylinder", "as_cylinder", "turn", "of", "on_top", "same", "stacked"),
    "sphere_zero",
)
_OF_LINE: Mapping[str, type[LineEye | LineNames | LineAbout]] = {
    "line_eye": LineEye,
    "line_names": LineNames,
    "line_about": LineAbout,
}
_WITH_LENS = ("reading", "lenses", "refined")


def build(rule: str, value: Value) -> tuple[Meaning, ...]:
    """The meanings of a rule's value, in the order they were said, as the grammar's tags left it.

    Raises ValueError (pydantic's) when the tags do not make a meaning: a fault of the grammar, not of the speaker.
    """
    if not isinstance(value, Several) and not (isinstance(value, tuple) and "kind" in _record(value)):
        value = (("kind", rule), (rule, value))
    return joined([part for record in _records(value) for part in _parts(record)])


def _records(value: Value) -> Iterable[Record]:
    if isinstance(value, Several):
        for item in value.items:
            yield from _records(item)
    else:
        yield _record(value)


def _record(value: Value) -> Record:
    """A record, with what a rule inside found beside it ("also") as fields of its own."""
    record = as_mapping(value)
    return {**_without(record, "also"), **as_mapping(record["also"])} if "also" in record else record


def _parts(record: Record) -> Iterable[Part]:
    """The meanings of one record; most records make one."""
    match record["kind"]:
        case "line_eye" | "line_names" | "line_about":
            yield _OF_LINE[str(record["kind"])].model_validate(_without(record, "kind"))
        case "drops":
            yield from _drops(as_mapping(record["drop"]))
        case "pupil_pair":
            for side in ("right", "left"):
                yield MEANING.validate_python(
                    {"kind": "pupils", "eye": side, "size_mm": float(_number(record[f"{side}_mm"]))}
                )
        case "reflex":
            looks = record["looks"] if "looks" in record else record["look"]
            others = {name: value for name, value in record.items() if name not in ("look", "looks")}
            for look in looks.items if isinstance(looks, Several) else (looks,):
                yield MEANING.validate_python(_fields({**others, "reflex": look}))
        case "refined_pair" | "spectacles_pair" | "estimate_pair":
            kind = str(record["kind"]).removesuffix("_pair")
            what = "power" if "power" in record else "lens"
            first = {"kind": kind, "eye": record["eye"], what: record[what]}
            other = {"kind": kind, "eye": record["other_eye"], what: record[f"other_{what}"]}
            yield MEANING.validate_python(_fields(first))
            yield MEANING.validate_python(_fields(other))
        case "note":
            text = record.get("text")
            said = text.removeprefix("down ").removeprefix("that ") if isinstance(text, str) else None
            yield MEANING.validate_python({"kind": "note", "text": said})
        case "correction":
            yield _correction(record)
        case _:
            yield MEANING.validate_python(_fields(record))


def _correction(record: Record) -> Meaning:
    """A correction; of what corrects by itself ("sorry, horizontal should be plus two"), that alone."""
    entry = next(iter(_parts(_record(record["entry"]))))
    if isinstance(entry, Place):
        entry = LooseWhere(where=entry.where)
    if entry.kind not in CORRECTABLE_KINDS:  # type: ignore[union-attr]
        return entry  # type: ignore[return-value]
    return MEANING.validate_python({**_fields(_without(record, "entry")), "entry": entry})


def _fields(record: Record) -> dict[str, Any]:
    kind = record["kind"]
    if kind == "lenses" and "net_sphere" in record:
        return {"kind": "claim", "lens": _claimed(record)}
    if kind == "reading" and "to" in record:
        first = record["from"] if "from" in record else record["sphere"]
        record = {
            **_without(record, "to", "from", "sphere"),
            "between": (("from", first), ("to", record["to"])),
        }
    parts = {name: record[name] for name in _LENS_PARTS if name in record} if kind in _WITH_LENS else {}
    fields: dict[str, Any] = {}
    for name, value in _without(record, *parts).items():
        fields.update(_field(name, value))
    if parts:
        fields["lens"] = _lens(parts)
    if kind != "reading":
        fields.pop("approximate", None)
        fields.pop("again", None)
    if kind == "working_lens" and "sphere" in fields:
        fields["power"] = fields.pop("sphere")
    if kind == "reading" and "motion" not in fields:
        fields["motion"] = "neutral"  # a power found is the power of neutral, unless another motion is named
    return fields


def _without(record: Record, *names: str) -> dict[str, Value]:
    return {name: value for name, value in record.items() if name not in names}


def _field(name: str, value: Value) -> dict[str, Any]:
    """One field of a record as fields of its meaning."""
    match name:
        case "moved":
            return _moved(as_mapping(value))
        case "lens":
            lens = dict(as_mapping(value))
            approximate = {"approximate": True} if lens.pop("approximate", None) else {}
            return {"lens": _lens(lens), **approximate}
        case "between":
            return {"between": _span(as_mapping(value))}
        case "allowance":
            return {"distance": round(float(100 / _number(value)), 1)}
        case "wrong_axis":
            return {"wrong_axis_deg": _whole(value)}
        case "value" | "acuity" | "near":
            return _acuity(name, as_mapping(value))
        case "clock":
            return {"clock": _clock(as_mapping(value))}
        case _:
            return {name: _simple(name, value)}


def _simple(name: str, value: Value) -> Any:
    if name in _POWERS:
        return _power(value)
    if name == "axis":
        return _whole(value)
    if name == "where":
        return _where(value)
    return float(value) if isinstance(value, Decimal) else value


def _power(value: Value) -> Power:
    record = as_mapping(value)
    size = record["magnitude"]
    return Power(
        size_d=float(size) if isinstance(size, Decimal) else None,
        sign=_SIGN.get(record.get("sign")) if size != 0 else None,
        spelled="spelled" in record,
    )


def _span(record: Record) -> tuple[Power, Power]:
    """Both ends; a sign said with one of them alone is that of both ("two to two and a half plus")."""
    ends = _power(record["from"]), _power(record["to"])
    signs = {end.sign for end in ends if end.sign is not None}
    sign = signs.pop() if len(signs) == 1 else None
    return ends if sign is None else (_signed(ends[0], sign), _signed(ends[1], sign))


def _signed(power: Power, sign: Literal[1, -1]) -> Power:
    return power.with_sign(sign) if power.sign is None and power.size_d else power


def _moved(record: Record) -> dict[str, Any]:
    manners: list[Value] = []
    for name in ("manner", "after"):
        found = record.get(name)
        manners += found.items if isinstance(found, Several) else ()
    return {"motion": record["motion"], "manner": tuple(dict.fromkeys(manners))}


def _where(value: Value) -> Where:
    record = as_mapping(value)
    angle = _whole(record["angle"]) if "angle" in record else None
    return Where.model_validate({"names": record.get("names"), "angle": angle, "which": record.get("which")})


def _lens(record: Record) -> Lens:
    if "same" in record:
        return Lens(same=True)
    if "turn" in record:
        return Lens(sphere=_turned(record), on_top=True)
    cylinder = None
    axis = _whole(record["axis"]) if "axis" in record else None
    if "as_cylinder" in record:
        return Lens(cylinder=Cylinder(power=_power(record["sphere"]), axis=axis))
    if "second" in record:
        cylinder = Cylinder(power=_power(record["second"]), axis=axis)
    elif "cylinder" in record:
        parts = as_mapping(record["cylinder"])
        axis = _whole(parts["axis"]) if "axis" in parts else None
        cylinder = Cylinder(power=_power(parts["power"]), axis=axis)
    sphere = _power(record["sphere"]) if "sphere" in record else None
    if "sphere_zero" in record:
        sphere = Power(size_d=0.0, sign=None)
    if "stacked" in record and sphere is not None:
        sphere = _sum(sphere, _power(record["stacked"]))
    return Lens(sphere=sphere, cylinder=cylinder, on_top="on_top" in record)


def _turned(record: Record) -> Power:
    """A step up or down. With a sign of its own it is what it says; "less plus" and the like are left open."""
    by = _power(record["sphere"])
    turn = _TURN.get(record.get("turn"))
    of = _SIGN.get(record.get("of"))
    if by.sign is not None:
        return by if turn == 1 else Power(size_d=by.size_d, sign=None)
    if turn is None or not by.size_d:
        return by
    return by.with_sign(turn if of in (None, 1) else -turn)


def _sum(one: Power, other: Power) -> Power:
    if one.dioptres is None or other.dioptres is None:
        return Power(size_d=None, sign=None)
    total = one.dioptres + other.dioptres
    return Power(size_d=abs(total), sign=None if total == 0 else 1 if total > 0 else -1)


def _claimed(record: Record) -> Lens:
    cylinder = Cylinder(power=_power(record["net_cylinder"]), axis=_whole(record["net_axis"]))
    return Lens(sphere=_power(record["net_sphere"]), cylinder=cylinder)


def _acuity(name: str, record: Record) -> dict[str, Any]:
    if "metres" in record or "feet" in record:  # a fraction alone
        record = {"snellen": tuple(sorted(record.items()))}
    fields: dict[str, Any] = {}
    for part, value in record.items():
        if part == "snellen":
            fields["snellen"] = {each: float(_number(number)) for each, number in as_mapping(value).items()}
        elif part == "at_m":
            fields["at_cm"] = float(_number(value) * 100)
        elif part == "at_feet":
            fields["at_cm"] = float(_number(value) * _CM_OF_FOOT)
        elif part != "each":
            fields[part] = float(value) if isinstance(value, Decimal) else value
    return {name: fields, **({"eye": "both"} if "each" in record else {})}


def _clock(record: Record) -> dict[str, int]:
    if "time" in record:
        record = {**_without(record, "time"), **as_mapping(record["time"])}
    hour = int(_number(record["hour"]) if "hour" in record else _number(record["before"]) - 1)
    if "before" in record and hour == 0:
        hour = 12  # "quarter to one"
    match record.get("half"):
        case "afternoon" if hour < 12:
            hour += 12
        case "morning" if hour == 12:
            hour = 0
    return {"hour": hour, "minute": int(_number(record["minute"]))}


def _drops(record: Record) -> Iterable[Meaning]:
    """One meaning an agent; what else was said holds for each."""
    others = {name: value for name, value in record.items() if name not in ("agent", "second")}
    for agent in [record[name] for name in ("agent", "second") if name in record]:
        strength = others if agent == record["agent"] else {**others, "strength_percent": None}
        yield MEANING.validate_python(_fields({"kind": "drops", "agent": agent, **strength}))


def _number(value: Value) -> Decimal:
    if not isinstance(value, Decimal):
        raise ValueError(f"{value!r} is not a number")
    return value


def _whole(value: Value) -> int:
    number = _number(value)
    if number != int(number):
        raise ValueError(f"an angle must be a whole number of degrees, not {value!r}")
    return 180 if number == 0 else int(number)
