"""From the values that the grammar's tags leave to meanings: one utterance may hold several."""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from voicelog.phrases.breath import LineAbout, LineEye, LineNames, Part, joined
from voicelog.phrases.building_lenses import (
    Record,
    as_degrees,
    as_lens,
    as_number,
    as_place,
    as_power,
    as_span,
    claimed_lens,
)
from voicelog.phrases.meanings import (
    CORRECTABLE_KINDS,
    MEANING,
    LooseWhere,
    Meaning,
    Place,
    Power,
)
from voicelog.phrases.said_once import said_once
from voicelog.phrases.tags import Several, Value, as_mapping

_UNCLEAR = Power(size_d=None, sign=None)
_CM_OF_FOOT = Decimal("30.48")
_POWERS = ("power", "power_behind", "sphere", "wrong", "right", "addition", "instead_of")
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
    return said_once(joined([part for record in _records(value) for part in _parts(record)]))


def _records(value: Value) -> Iterable[Record]:
    if isinstance(value, Several):
        for item in value.items:
            yield from _records(item)
    else:
        yield _record(value)


def _record(value: Value) -> Record:
    """A record, with what a rule inside found beside it ("also") as fields of its own."""
    record = as_mapping(value)
    while "also" in record:
        record = {**_without(record, "also"), **as_mapping(record["also"])}
    return record


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
                    {"kind": "pupils", "eye": side, "size_mm": float(as_number(record[f"{side}_mm"]))}
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
        return {"kind": "claim", "lens": claimed_lens(record)}
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
        fields["lens"] = as_lens(parts)
    if kind != "reading":
        fields.pop("approximate", None)
        fields.pop("again", None)
    if kind == "change" and "power_sign" in fields:
        fields["power"] = Power(size_d=None, sign=1 if fields.pop("power_sign") == "plus" else -1)
    if kind == "working_lens":
        said = [fields.pop(name) for name in ("power", "sphere", "power_behind") if name in fields]
        # Said twice and differently, it is none of them.
        fields["power"] = None if not said else said[0] if len(set(said)) == 1 else _UNCLEAR
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
            return {"lens": as_lens(lens), **approximate}
        case "between":
            return {"between": as_span(as_mapping(value))}
        case "allowance":
            return {"distance": round(float(100 / as_number(value)), 1)}
        case "one_deg" | "other_deg":
            return {name: as_degrees(value)}
        case "wrong_axis":
            return {"wrong_axis_deg": as_degrees(value)}
        case "value" | "acuity" | "near":
            return _acuity(name, as_mapping(value))
        case "age" if not isinstance(value, str):
            return {"age": {part: int(as_number(number)) for part, number in as_mapping(value).items()}}
        case "signs":
            return {"text": _joined_signs(value)}
        case "clock":
            return {"clock": _clock(as_mapping(value))}
        case _:
            return {name: _simple(name, value)}


def _joined_signs(value: Value) -> str:
    """Digits and letters that were said one by one, or typed at once."""
    signs = value.items if isinstance(value, Several) else (value,)
    return "".join(str(int(each)) if isinstance(each, Decimal) else str(each) for each in signs)


def _simple(name: str, value: Value) -> Any:
    if name in _POWERS:
        return as_power(value)
    if name == "axis":
        return as_degrees(value)
    if name == "where":
        return as_place(value)
    return float(value) if isinstance(value, Decimal) else value


def _moved(record: Record) -> dict[str, Any]:
    manners: list[Value] = []
    for name in ("manner", "after"):
        found = record.get(name)
        manners += found.items if isinstance(found, Several) else ()
    return {"motion": record["motion"], "manner": tuple(dict.fromkeys(manners))}


def _acuity(name: str, record: Record) -> dict[str, Any]:
    if "metres" in record or "feet" in record:  # a fraction alone
        record = {"snellen": tuple(sorted(record.items()))}
    fields: dict[str, Any] = {}
    for part, value in record.items():
        if part == "snellen":
            fields["snellen"] = {each: float(as_number(number)) for each, number in as_mapping(value).items()}
        elif part == "at_m":
            fields["at_cm"] = float(as_number(value) * 100)
        elif part == "at_feet":
            fields["at_cm"] = float(as_number(value) * _CM_OF_FOOT)
        elif part != "each":
            fields[part] = float(value) if isinstance(value, Decimal) else value
    return {name: fields, **({"eye": "both"} if "each" in record else {})}


def _clock(record: Record) -> dict[str, int]:
    if "time" in record:
        record = {**_without(record, "time"), **as_mapping(record["time"])}
    hour = int(as_number(record["hour"]) if "hour" in record else as_number(record["before"]) - 1)
    if "before" in record and hour == 0:
        hour = 12  # "quarter to one"
    match record.get("half"):
        case "afternoon" if hour < 12:
            hour += 12
        case "morning" if hour == 12:
            hour = 0
    return {"hour": hour, "minute": int(as_number(record["minute"]))}


def _drops(record: Record) -> Iterable[Meaning]:
    """One meaning an agent; what else was said holds for each."""
    others = {name: value for name, value in record.items() if name not in ("agent", "second")}
    for agent in [record[name] for name in ("agent", "second") if name in record]:
        strength = others if agent == record["agent"] else {**others, "strength_percent": None}
        yield MEANING.validate_python(_fields({"kind": "drops", "agent": agent, **strength}))
