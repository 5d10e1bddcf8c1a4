"""The column `structured` of a list, as facts."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

from tests.phrases.said.clock import time_said
from tests.phrases.said.facts import Fact, fact, place, power

Said = Mapping[str, Any]


def expected(structured: Said | list[Said]) -> list[Fact]:
    """The facts that were meant."""
    entries = structured if isinstance(structured, list) else [structured]
    return [each for entry in entries for each in _KINDS[entry["kind"]](entry)]


def _place(entry: Said) -> tuple[str, int | str] | None:
    named = entry.get("place")
    if named is None:
        return None
    angle = {"vertical": 90, "horizontal": 180}.get(named["word"], named.get("degrees", named["word"]))
    return place(angle, named["named"])


def _power(entry: Said, name: str = "power") -> tuple[str, Any] | None:
    value = entry.get(name)
    match value:
        case None:
            return None
        case "same":
            return ("same", "same")
        case {"step": change} | {"relative": change}:
            return ("changes by", float(change))
        case {"from": low, "to": high}:
            return ("between", (float(low), float(high)))
        case {"value": size}:
            return power(float(size), None)
        case _:
            return ("is", float(value))


def _eye(entry: Said) -> Iterator[Fact]:
    yield fact("eye", eye=entry["eye"])


def _distance(entry: Said) -> Iterator[Fact]:
    said = entry["distance_cm"]
    yield fact("distance", cm=said if said == "same" else round(said), eye=entry.get("eye"))


def _working_lens(entry: Said) -> Iterator[Fact]:
    yield fact(
        "working lens",
        position=entry["command"].removeprefix("wd_lens_"),
        power=_power(entry),
        eye=entry.get("eye") if entry.get("target") != "eye" else None,
        throughout=True if entry.get("target") in ("last", "eye") else None,
    )


def _lens(entry: Said) -> Iterator[Fact]:
    removed = {"out": "lens", "all_out": "all", "none": "all"}.get(entry.get("command", ""))
    yield fact("lens", power=_power(entry), place=_place(entry), eye=entry.get("eye"), removed=removed)


def _look(entry: Said) -> Iterator[Fact]:
    motion = entry.get("motion", "neutral")
    if motion in ("scissors", "uncertain"):
        look = "unclear" if motion == "uncertain" else motion
        yield fact("reflex", look=look, place=_place(entry), eye=entry.get("eye"))
        return
    motion = "not_neutral" if motion == "reversal" else motion
    yield fact("look", motion=motion, place=_place(entry), power=_power(entry), eye=entry.get("eye"))
    yield from _beside(entry.get("note", ""))


def _beside(note: str) -> Iterator[Fact]:
    """What a remark tells of another entry that was said in the same breath."""
    if look := re.search(r"reflex (\w+)", note):
        yield fact("reflex", look=REFLEX_WORDS.get(look[1], look[1]), remark=True)
    if vertex := re.search(r"vertex distance (\d+) mm", note):
        yield fact("vertex", mm=float(vertex[1]), remark=True)


REFLEX_WORDS: Mapping[str, str] = {
    # what is seen is called many things, and kept under one name
    **dict.fromkeys(("dim", "faint", "murky", "cloudy", "very dull", "dull"), "dull"),
    **dict.fromkeys(("wide", "broad", "very broad"), "broad"),
    **dict.fromkeys(("brighter", "very bright", "bright"), "bright"),
    **dict.fromkeys(("no reflex", "no red reflex", "no glow", "absent"), "none"),
    **dict.fromkeys(("shadow at six o'clock", "central shadow", "dark shadow"), "shadow"),
    "same width both ways": "even",
    **dict.fromkeys(("patchy", "uneven", "distorted"), "irregular"),
    "media opacity": "opacity",
    "white reflex": "white",
    "oil droplet": "oil_droplet",
    **dict.fromkeys(("good red reflex", "clear red reflex"), "good_red"),
    "red glow absent": "none",
    "very dark": "dull",
    "weak": "dull",
    "clear": "crisp",
    "sluggish": "slow",
    "no break": "no_break",
    "scissors": "scissors",
    "oblique": "skew",
    "not aligned": "skew",
    # beside the look, and no look
    "query cataract": "",
    "poor fixation": "",
}


def _reflex(entry: Said) -> Iterator[Fact]:
    for said in entry["note"].split(","):
        look = REFLEX_WORDS.get(said.strip(), said.strip())
        if look:
            yield fact("reflex", look=look, place=_place(entry), eye=entry.get("eye"))


def _axis(entry: Said) -> Iterator[Fact]:
    if "cylinder" not in entry and "sphere" not in entry:
        yield fact("value", axis=entry["axis"])
        return
    yield fact(
        "lens", power=_power(entry, "sphere"), cylinder=_power(entry, "cylinder"), axis=entry.get("axis")
    )


def _value(entry: Said) -> Fact:
    sign = {"sign_plus": 1, "sign_minus": -1}.get(entry.get("command", ""))
    said = _power(entry)
    number = entry.get("value")
    return fact(
        "value",
        sign=sign if said is None else None,
        power=said,
        number=None if number is None else float(number),
        place=_place(entry),
        axis=entry.get("axis"),
        cylinder=_power(entry, "cylinder"),
        eye=entry.get("eye"),
        count=2 if "last two" in entry.get("note", "") else None,
    )


def _correct(entry: Said) -> Iterator[Fact]:
    command, note = entry.get("command", ""), entry.get("note", "")
    if command.startswith("swap_"):
        yield fact("swap", what=command.removeprefix("swap_"))
    elif "meant streak" in note or "meant meridian" in note:
        yield fact("habit", names=note.split()[-1])
    elif "place" in entry and "power" in entry:
        yield from _look(entry)
    elif "eye" in entry and len(entry.keys() & {"power", "place", "axis", "value", "cylinder"}) == 0:
        yield fact("move", eye=entry["eye"], all=True if entry.get("target") == "eye" else None)
    else:
        yield _value(entry)


def _answer(entry: Said) -> Iterator[Fact]:
    command, note = entry.get("command", ""), entry.get("note", "")
    if "names the" in note:
        yield fact("habit", names=note.split()[-1])
    elif "eye" in entry:
        same = entry["eye"] == "same"
        yield fact("answer", answer="same") if same else fact("eye", eye=entry["eye"])
    elif entry.keys() & {"power", "value", "place", "axis"} or command.startswith("sign"):
        yield _value(entry)
    else:
        yield fact("answer", answer="leave" if command == "leave_blank" else command)


def _undo(entry: Said) -> Iterator[Fact]:
    match entry.get("command"):
        case "undo_two":
            yield fact("undo", count=2)
        case "clear_eye":
            yield fact("undo", eye=entry.get("eye"), all=True)
        case "delete_named":
            yield fact("undo", place=_place(entry), eye=entry.get("eye"))
        case "redo" | "discard_question" as command:
            yield fact(command)
        case _:
            yield fact("undo", count=1)


def _note(entry: Said) -> Iterator[Fact]:
    yield fact("note", words=entry["note"])


CORRECTIONS: Mapping[str, str] = {
    "unaided": "unaided",
    "pinhole": "pinhole",
    "best corrected": "refined",
    "aided": "aided",
    "aided each eye": "aided",
    "with correction": "aided",
    "with current spectacles": "aided",
}


def _acuity(entry: Said) -> Iterator[Fact]:
    with_what = CORRECTIONS.get(entry.get("note", ""))
    said = entry["value"]
    plain = f"{said:g}" if isinstance(said, float) else str(said)
    value = f"logMAR {plain}" if entry.get("unit") == "logMAR" else plain
    yield fact("acuity", eye=entry.get("eye"), value=value, with_what=with_what)


PUPILS: Mapping[str, str] = {
    **dict.fromkeys(
        ("PERRL", "PERRL no APD", "equal reactive no RAPD", "round equal reactive"), "equal_reactive"
    ),
    "fixed dilated": "fixed_dilated",
    "fully dilated": "dilated",
}


def _pupils(entry: Said) -> Iterator[Fact]:
    note, value, eye = entry.get("note", ""), entry.get("value"), entry.get("eye")
    if note == "BVD":
        yield fact("vertex", mm=value)
    elif "PD" in note:
        at = {"distance PD": "far", "near PD": "near"}.get(note)
        yield fact("pupillary distance", mm=value, eye=eye, at=at)
    elif isinstance(value, str) and (sizes := re.fullmatch(r"(\d+) and (\d+)", value)):
        for one, size in zip(("right", "left"), sizes.groups(), strict=True):
            yield fact("pupil", eye=one, mm=float(size))
    else:
        look = value if isinstance(value, str) else note or None
        size = None if isinstance(value, str) else value
        look = None if look is None else PUPILS.get(look, look)
        yield fact("pupil", eye=None if eye == "both" else eye, mm=size, look=look)


def _drops(entry: Said) -> Iterator[Fact]:
    command = entry.get("command")
    if command in ("dry", "no_drops", "wet", "wet_next"):
        yield fact("condition", condition="wet" if command.startswith("wet") else "dry")
        return
    drug = entry.get("drug", "other") if command is None else command
    percent = float(entry["strength"].rstrip("%")) if "strength" in entry else None
    time = time_said(entry["time"]) if "time" in entry else None
    for each in drug.split("+"):
        agent = "other" if each.startswith("combination") else each
        yield fact("drops", agent=agent, percent=percent, eye=entry.get("eye"), time=time)


def _glasses(about: str, entry: Said) -> Iterator[Fact]:
    sphere = entry.get("sphere", entry.get("power"))
    cylinder = entry.get("cylinder") or None
    if sphere is None and cylinder is None and "axis" not in entry:
        yield fact(about, told=entry.get("note", entry.get("command")))
        return
    lens = _power({"power": sphere})
    unsaid = "sign unsaid" in entry.get("note", "")
    turned = None if cylinder is None else power(cylinder, None) if unsaid else ("is", float(cylinder))
    added = re.search(r"add \+([\d.]+)", entry.get("note", ""))
    yield fact(
        about,
        eye=entry.get("eye"),
        power=lens,
        cylinder=turned,
        axis=entry.get("axis"),
        added=float(added[1]) if added else None,
    )
    if "value" in entry:
        yield fact("acuity", eye=entry.get("eye"), value=str(entry["value"]), with_what="refined")


def _near(entry: Said) -> Iterator[Fact]:
    note, value, said = entry.get("note", ""), entry.get("value"), _power(entry)
    eye = entry.get("eye") if entry.get("eye") != "both" else None
    if note == "NPC":
        yield fact("convergence", cm=value)
    elif "MEM" in note or "lag" in note.lower():
        yield fact("estimate", eye=entry.get("eye"), power=said or ("is", value))
    elif said is None and value is None:
        yield fact("near", told=note)
    if "NPC" not in note and "MEM" not in note and "lag" not in note.lower():
        if said is not None:
            yield fact("addition", power=said, eye=eye)
        if value is not None:
            yield fact("acuity", value=str(value), eye=eye, at_cm=entry.get("distance_cm"))


QUESTIONS: Mapping[str, tuple[str, ...]] = {
    "readings of eye": ("right", "left"),
    "axis": ("cylinder",),
    "read back": ("last",),
    "last entry": ("last",),
    "sign of last": ("last",),
    "sphcyl": ("net",),
    "prescription": ("net",),
    "sphcyl plus form": ("plus_form",),
    "summary": ("everything",),
    "is working distance subtracted": ("distance",),
    "current eye": ("state",),
    "spherical equivalent": ("equivalent",),
    "anisometropia": ("comparison",),
    "gross": ("reading",),
    "dry readings": ("dry",),
    "compare dry wet": ("dry", "comparison"),
}


def _question(entry: Said) -> Iterator[Fact]:
    says = QUESTIONS.get(entry["question"], (entry["question"],))
    eye = entry.get("eye") if entry.get("eye") != "both" else None
    if says == ("right", "left"):
        says, eye = (eye or "everything",), None
    yield fact("question", says=says, place=_place(entry), eye=eye)


_ORDERS: Mapping[str, str] = {
    "new_patient": "next_patient",
    "new_exam": "next_patient",
    "save_and_close": "finish",
    "volume_up": "louder",
    "volume_down": "quieter",
    "clear_all": "discard",
    "readback_off": "read_back_off",
    "readback_on": "read_back_on",
    "repeat_slower": "repeat",
}


def _control(entry: Said) -> Iterator[Fact]:
    yield fact("order", order=_ORDERS.get(entry["command"], entry["command"]))


_KINDS: Mapping[str, Any] = {
    "eye": _eye,
    "distance": _distance,
    "wdlens": _working_lens,
    "lens": _lens,
    "motion": _look,
    "reading": _look,
    "reflex": _reflex,
    "axis": _axis,
    "power": lambda entry: iter((_value(entry),)),
    "correct": _correct,
    "answer": _answer,
    "undo": _undo,
    "note": _note,
    "acuity": _acuity,
    "pupils": _pupils,
    "drops": _drops,
    "spectacles": lambda entry: _glasses("spectacles", entry),
    "subjective": lambda entry: _glasses("refined", entry),
    "near": _near,
    "question": _question,
    "control": _control,
}
