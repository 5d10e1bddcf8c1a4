"""Facts: what was meant and what was understood, in one flat form, so that whole meanings can be compared.

A fact is a dictionary with its kind under "about"; what was not said is left out. A place is ("meridian", 90) when
streak or meridian was named, as the meridian of power, else ("bare", 90). A power is a pair: what is done with it, and
the signed number, or the size with a "?" where no sign was said.
"""

from typing import Any

Fact = dict[str, Any]

SAME_PLACE = ("both", "other")
"""These are the same place whether one says streak or meridian."""


def fact(about: str, **fields: Any) -> Fact:
    """A fact without what was not said."""
    return {"about": about} | {name: value for name, value in fields.items() if value not in (None, ())}


def place(angle: int | str, named: str | None) -> tuple[str, int | str]:
    """A place: along which meridian, or which direction if neither streak nor meridian was named."""
    if isinstance(angle, str):
        return ("either", angle)
    if named in (None, "bare"):
        return ("bare", angle)
    return ("meridian", (angle + (90 if named == "streak" else 0) - 1) % 180 + 1)


def power(size: float | None, sign: int | None, does: str = "is") -> tuple[str, float | str]:
    """A power, or a change of it."""
    if size is None:
        return (does, "?")
    return (does, f"{size:g}?") if sign is None and size else (does, size * (sign or 1))


def joined(facts: list[Fact]) -> list[Fact]:
    """Facts of one breath, with what an earlier one tells of a later: eye, place, and the lens that was put in."""
    eye, where, lens = None, None, None
    found: list[Fact] = []
    for each in facts:
        each = dict(each)
        if each["about"] == "eye":
            eye = each["eye"]
        elif each["about"] in _OF_AN_EYE:
            eye = each.get("eye", eye)
            if eye is not None:
                each["eye"] = eye
        if each["about"] == "look":
            if where is not None:
                each.setdefault("place", where)
            if lens is not None:
                each.setdefault("power", lens)
            if found and found[-1]["about"] == "lens" and found[-1].get("power") == each.get("power"):
                found.pop()  # a lens that is put in and looked through at once
            if found and found[-1] == fact("value", place=where):
                found.pop()
        where = each.get("place", where)
        lens = _in_place(lens, each.get("power"))
        found.append(each)
    telling = [each for each in found if each["about"] in _OF_AN_EYE and "eye" in each]
    return [each for each in found if each["about"] != "eye" or not telling or each is found[-1]]


_OF_AN_EYE = ("look", "lens", "reflex", "acuity", "spectacles", "refined", "pupil", "value", "drops")


def _in_place(before: Any, now: Any) -> Any:
    """The power before the eye, where it was said in the same breath."""
    if now is None or not isinstance(now[1], float):
        return before
    if now[0] == "is":
        return now
    return ("is", before[1] + now[1]) if before is not None and now[0] == "changes by" else before
