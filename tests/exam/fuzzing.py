"""Lines for whole exams at random, with what a person means by each; and the comparison with the log."""

from random import Random
from typing import Any

from tests.exam.reference import Action, Glass, Sheet
from voicelog.exam.entries import (
    DistanceEntry,
    DropsEntry,
    EyeEntry,
    LensesEntry,
    MirrorEntry,
    PassEntry,
    ReadingEntry,
    WorkingLensEntry,
)
from voicelog.exam.entries.base import BaseFinding
from voicelog.exam.ledger import Row
from voicelog.exam.state import ExamState

ANGLES = (90, 180, 45, 135, 30, 120, 15, 105)
_FINDINGS: tuple[tuple[str, str, str | None, dict[str, float]], ...] = (
    ("acuity unaided six nine", "acuity unaided", None, {}),
    ("acuity right eye aided six six", "acuity aided", "right", {}),
    (
        "refined sphere minus two cylinder minus one axis 90",
        "subjective",
        None,
        {"sphere": -2, "cylinder": -1},
    ),
    ("spectacles left sphere plus one fifty", "spectacles", "left", {"sphere": 1.5}),
    ("addition plus two", "addition", "both", {"power": 2}),
    ("vertex distance twelve", "vertex", "none", {}),
    ("pupil size right eye four", "pupil", "right", {}),
)


_KINDS = [
    "eye",
    "distance",
    "working_lens",
    "reading",
    "reading",
    "reading",
    "reading",
    "cylinder_reading",
    "sphere",
    "cylinder",
    "add",
    "cylinder_out",
    "finding",
    "mirror",
    "drops",
    "pass",
    "correct_power",
    "correct_power",
    "correct_reading",
    "scratch",
    "scratch",
    "yes",
    "no",
    "sign",
]
_SETTLING = ["eye", "distance", "reading", "scratch", "yes", "yes", "no", "sign"]


def next_action(random: Random, number: int, *, asked: bool) -> Action:
    """One line, plain or not, of any kind; mostly as in an exam: eye and distance first, questions settled."""
    if number < 2 and random.random() < 0.8:
        return _action(random, ("eye", "distance")[number])
    return _action(random, random.choice(_SETTLING if asked and random.random() < 0.6 else _KINDS))


def _action(random: Random, kind: str) -> Action:
    maker = globals().get(f"_{kind}")
    if maker is not None:
        made: Action = maker(random)
        return made
    texts = {
        "cylinder_out": "cylinder out",
        "pass": "next pass",
        "scratch": "scratch that",
        "yes": "yes",
        "no": "no",
    }
    return Action(texts[kind], kind)


def _power(random: Random, largest: int = 24) -> float:
    return random.randint(-largest, largest) / 4


def _said(power: float, *, signed: bool = True) -> str:
    if power == 0:
        return "zero"
    return f"{power:+.2f}" if signed else f"{abs(power):.2f}"


def _eye(random: Random) -> Action:
    eye = random.choice(("right", "left"))
    return Action(f"{eye} eye", "eye", {"eye": eye})


def _distance(random: Random) -> Action:
    value = random.choice((40, 50, 57, 67, 80, 67, 50, 15, 26, 150))
    if random.random() < 0.2:
        eye = random.choice(("right", "left"))
        return Action(f"working distance {value} for the {eye} eye", "distance", {"value": value, "eye": eye})
    return Action(f"working distance {value}", "distance", {"value": value})


def _working_lens(random: Random) -> Action:
    position = random.choice(("in", "out"))
    return Action(f"working lens {position}", "working_lens", {"position": position})


def _mirror(random: Random) -> Action:
    value = random.choice(("plane", "concave"))
    return Action(f"mirror {value}", "mirror", {"value": value})


def _drops(random: Random) -> Action:
    eyes = random.choice(("right", "left", "both"))
    text = f"drops tropicamide one percent {eyes} eye{'s' if eyes == 'both' else ''}"
    return Action(text, "drops", {"value": eyes})


def _finding(random: Random) -> Action:
    text, what, eye, powers = random.choice(_FINDINGS)
    return Action(text, "finding", {"what": what, "eye": eye, "powers": powers})


def _reading(random: Random) -> Action:
    angle, motion = random.choice(ANGLES), random.choice(("neutral", "neutral", "neutral", "with", "against"))
    named = random.choice(("streak", "streak", "meridian"))
    parts: dict[str, Any] = {"streak": angle, "named": named, "motion": motion}
    text = f"{named} {angle} {motion}"
    if random.random() < 0.12:
        return Action(text, "reading", parts)
    power, signed = _power(random), random.random() > 0.15
    parts |= {"power": power if signed else abs(power), "signed": signed}
    return Action(f"{text} at {_said(power, signed=signed)}", "reading", parts)


def _cylinder_reading(random: Random) -> Action:
    angle = random.choice(ANGLES)
    axis = angle if random.random() < 0.7 else random.choice(ANGLES)
    power = _power(random, 16)
    parts = {"streak": angle, "named": "streak", "motion": "neutral", "power": power, "axis": axis}
    return Action(f"streak {angle} neutral with cylinder {_said(power)} axis {axis}", "reading", parts)


def _sphere(random: Random) -> Action:
    power = _power(random)
    return Action(f"sphere {_said(power)}", "sphere", {"power": power})


def _cylinder(random: Random) -> Action:
    power, axis = _power(random, 16), random.choice(ANGLES)
    return Action(f"cylinder {_said(power)} axis {axis}", "cylinder", {"power": power, "axis": axis})


def _add(random: Random) -> Action:
    power = random.choice((-0.5, -0.25, 0.25, 0.5))
    return Action(f"another {_said(power)}", "add", {"power": power})


def _correct_power(random: Random) -> Action:
    power = _power(random, 16) or 1.0
    return Action(f"correction {_said(power)}", "correct_power", {"power": power})


def _correct_reading(random: Random) -> Action:
    angle, motion = random.choice(ANGLES[:4]), random.choice(("neutral", "neutral", "with"))
    power = _power(random)
    text = f"correction streak {angle} {motion} at {_said(power)}"
    return Action(text, "correct_reading", {"streak": angle, "motion": motion, "power": power})


def _sign(random: Random) -> Action:
    sign = random.choice((1, -1))
    return Action("plus" if sign > 0 else "minus", "sign", {"sign": sign})


def sheet_of_log(state: ExamState) -> list[dict[str, Any]]:
    """What the log holds, in the words of the reference: numbers and eyes only."""
    return [_row(row) for row in state.ledger.live]


def sheet_of_person(sheet: Sheet) -> list[dict[str, Any]]:
    """What the person wrote down, without what only they need."""
    return [_plain(each) for each in sheet.entries]


def _glass(glass: Glass | None) -> tuple[float, int | None] | None:
    return None if glass is None else (glass.power, glass.axis)


def _plain(entry: dict[str, Any]) -> dict[str, Any]:
    kept = {
        key: value
        for key, value in entry.items()
        if key not in ("uid", "distance_from", "value", "what", "late")
    }
    if "sphere" in entry:
        kept["sphere"], kept["cylinder"] = _glass(entry["sphere"]), _glass(entry["cylinder"])
    if entry["kind"] == "finding":
        return {part: entry[part] for part in ("kind", "what", "eye", "powers")}
    return kept if "value" not in entry else {**kept, "value": entry["value"]}


def _row(row: Row) -> dict[str, Any]:
    entry = row.entry
    match entry:
        case EyeEntry():
            return {"kind": "eye", "eye": entry.eye}
        case DistanceEntry():
            named = {} if entry.eye is None else {"eye": entry.eye}
            return {"kind": "distance", "value": entry.distance_cm, **named}
        case WorkingLensEntry():
            return {"kind": "working_lens", "value": entry.position == "in"}
        case MirrorEntry():
            return {"kind": "mirror", "value": entry.mirror}
        case DropsEntry():
            return {"kind": "drops", "value": entry.eye}
        case PassEntry():
            return {"kind": "pass", "eye": entry.eye, "value": entry.number}
        case LensesEntry():
            return {"kind": "lenses", "eye": entry.eye, **_lenses(entry)}
        case ReadingEntry():
            return {
                "kind": "reading",
                "eye": entry.eye,
                "pass": entry.pass_number,
                "wet": entry.condition == "wet",
                "meridian": entry.meridian_deg,
                "motion": entry.motion,
                **_lenses(entry),
                "mirror": entry.mirror,
                "distance": entry.allowance.distance_cm,
                "lens_in": entry.allowance.lens_in,
            }
        case BaseFinding():
            names = {
                "acuity": f"acuity {getattr(entry, 'correction', '')}",
                "pupils": "pupil",
            }
            powers = {
                "addition": ("addition",),
                "subjective": ("sphere", "cylinder"),
                "spectacles": ("sphere",),
            }
            told = {each.part: each.value for each in entry.quantities()}
            return {
                "kind": "finding",
                "what": names.get(entry.kind, entry.kind),
                "eye": entry.about or "none",
                "powers": {
                    "power" if part == "addition" else part: told[part] for part in powers.get(entry.kind, ())
                },
            }
        case _:
            raise AssertionError(f"the reference knows no {entry.kind}")


def _lenses(entry: ReadingEntry | LensesEntry) -> dict[str, Any]:
    lenses = entry.lenses
    sphere = None if lenses.sphere_d is None else (lenses.sphere_d, None)
    cylinder = None if lenses.cylinder is None else (lenses.cylinder.power_d, lenses.cylinder.axis_deg)
    return {"sphere": sphere, "cylinder": cylinder}
