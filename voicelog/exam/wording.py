"""Entries in the trade's words, for the screen, the ear and the messages."""

from voicelog.exam.finding_words import finding
from voicelog.exam.lens_words import angle, lens, power
from voicelog.phrases import meanings as say

__all__ = ["TECHNIQUES", "angle", "lens", "meaning", "power", "where"]


def where(place: say.Where) -> str:
    """ "streak vertical (090)", "meridian 105", or the bare direction when the habit names it."""
    direction = {90: "vertical", 180: "horizontal"}.get(place.angle_deg)
    text = f"{direction} ({angle(place.angle_deg)})" if direction else angle(place.angle_deg)
    return f"{place.names} {text}" if place.names else text


def meaning(said: say.Meaning) -> str:  # noqa: C901 - one line a kind reads better than a table of functions
    """One entry in words."""
    match said:
        case say.Eye(eye=eye):
            return f"{eye} eye"
        case say.WorkingDistance(distance_cm=distance):
            return f"working distance {distance:g} cm"
        case say.WorkingLens(position=position, power=named):
            return f"working lens {power(named) + ' ' if named else ''}{position}"
        case say.Reading():
            return _reading(said)
        case say.Lenses(remove="all"):
            return "lenses out"
        case say.Lenses(remove="cylinder"):
            return "cylinder out"
        case say.Lenses(lens=named):
            return lens(named) if named else "lenses"
        case say.Reflex(reflex=reflex, where=place):
            look = {"none": "no reflex", "unclear": "reflex unclear"}.get(reflex, f"{reflex} reflex")
            return f"{where(place)} {look}" if place else look
        case say.Correction(entry=entry):
            return f"correction: {meaning(entry)}"
        case say.Change(where=place, power=new):
            return f"change {where(place)} to {power(new)}"
        case say.NotBut(wrong=wrong, right=right):
            return f"not {power(wrong)} but {power(right)}"
        case say.LoosePower(power=loose):
            return power(loose)
        case say.LooseAxis(axis_deg=axis):
            return f"axis {angle(axis)}"
        case say.LooseSign(sign=sign):
            return sign
        case say.LooseWhere(where=place):
            return where(place)
        case say.Mirror(mirror=mirror):
            return f"{mirror} mirror"
        case say.Tell(say=what):
            plain = {"last": "read back", "missing": "what is missing", "right": "read right eye"}
            return plain.get(what, "read left eye" if what == "left" else f"read {what}")
        case say.Answer(answer=answer):
            return "say again" if answer == "again" else answer
        case say.Digit(digit=digit):
            return str(digit)
        case say.Distance(distance_cm=distance):
            return f"{distance:g} cm"
        case say.Dark():
            return _dark(said)
        case say.Estimate(eye=eye, power=neutral):
            return f"{eye + ' eye ' if eye else ''}monocular estimate {power(neutral)}"
        case say.Dynamic(eye=eye, target_cm=target, neutral_cm=neutral_cm):
            return f"{eye + ' eye ' if eye else ''}target {target:g} cm, neutral {neutral_cm:g} cm"
        case say.Pass(number=number):
            return f"pass {number}" if number else "next pass"
        case say.Technique(technique=technique):
            return f"technique: {TECHNIQUES[technique]}"
        case say.Plain(kind=kind):
            return _PLAIN[kind]
        case _:
            return finding(said)


TECHNIQUES = {
    "spheres": "two spheres",
    "sphere_cylinder": "sphere and cylinder",
    "cylinders": "two cylinders",
}


_PLAIN = {
    "scratch": "scratch that",
    "wrong_eye": "wrong eye",
    "pause": "stop listening",
    "resume": "start listening",
    "note": "note",
    "end_note": "end note",
}


def _reading(said: say.Reading) -> str:
    place = where(said.where) + " " if said.where else ""
    return f"{place}{said.motion}" + (f", {lens(said.lens)}" if said.lens else "")


def _dark(said: say.Dark) -> str:
    place = f"{where(said.where)} neutral, " if said.where else ""
    return f"in the dark, {said.age}: {place}{lens(said.lens)}"
