"""Entries in the trade's words, for the screen, the ear and the messages."""

from voicelog.optics import written_axis, written_power
from voicelog.phrases import meanings as say


def power(spoken: say.Power) -> str:
    """ "+1.25", "plano", or what is not clear about it."""
    if spoken.dioptres is not None:
        return written_power(spoken.dioptres)
    if spoken.size_d is None:
        return "an unclear power"
    return f"{spoken.size_d:.2f} without a sign"


def lens(named: say.Lens) -> str:
    """ "sphere +1.25, cylinder -0.50 axis 090"."""
    parts = []
    if named.sphere is not None:
        parts.append(f"sphere {power(named.sphere)}")
    if named.cylinder is not None:
        axis = named.cylinder.axis_deg
        parts.append(f"cylinder {power(named.cylinder.power)} axis {angle(axis) if axis else 'not said'}")
    return ", ".join(parts) + (" on top" if named.on_top else "")


def angle(angle_deg: int) -> str:
    """Three digits; an angle that is no axis stays as it was said."""
    return written_axis(angle_deg) if 1 <= angle_deg <= 180 else str(angle_deg)


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
            look = {"none": "no reflex", "scissors": "scissors reflex", "dull": "dull reflex"}.get(
                reflex, "reflex unclear"
            )
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
            return {"last": "read back", "missing": "what is missing"}.get(what, f"read {what} eye")
        case say.Answer(answer=answer):
            return "say again" if answer == "again" else answer
        case say.Digit(digit=digit):
            return str(digit)
        case say.Distance(distance_cm=distance):
            return f"{distance:g} cm"
        case say.Plain(kind=kind):
            return _PLAIN[kind]


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
