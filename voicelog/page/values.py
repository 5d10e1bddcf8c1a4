"""An entry reduced to what can be read from two metres, and small texts of the page."""

from dataclasses import dataclass

from voicelog.exam import wording
from voicelog.exam.state import ExamState
from voicelog.optics import meridian_to_streak_deg, written_axis, written_power
from voicelog.phrases import meanings as say

_LONGEST_HUGE = 14  # characters that still fit in the largest letters


@dataclass(frozen=True, slots=True)
class Value:
    """`huge` is read at a glance, `words` say the whole entry."""

    huge: str
    words: str


def value(meaning: say.Meaning) -> Value:
    """An entry for the screen."""
    words = wording.meaning(meaning)
    huge = _huge(meaning)
    return Value(huge if huge and len(huge) <= _LONGEST_HUGE else "", words)


def _huge(meaning: say.Meaning) -> str:  # one line a kind, as in exam/wording.py
    match meaning:
        case say.Reading(lens=None, motion=motion):
            return motion
        case say.Reading(lens=say.Lens() as lens) | say.Lenses(lens=say.Lens() as lens):
            return _lens(lens)
        case say.Correction(entry=entry):
            return _huge(entry)
        case say.Change(power=new) | say.NotBut(right=new) | say.LoosePower(power=new):
            return _power(new)
        case say.LooseAxis(axis_deg=axis):
            return f"x {wording.angle(axis)}"
        case say.WorkingDistance(distance_cm=distance):
            return f"{distance:g} cm"
        case _:
            return wording.meaning(meaning)


def _lens(lens: say.Lens) -> str:
    parts = [_power(lens.sphere)] if lens.sphere is not None else []
    if lens.cylinder is not None:
        axis = lens.cylinder.axis_deg
        parts.append(f"{_power(lens.cylinder.power)} x {wording.angle(axis) if axis else '?'}")
    return ("add " if lens.on_top else "") + " ".join(parts)


def _power(power: say.Power) -> str:
    if power.dioptres is not None:
        return written_power(power.dioptres)
    return "?" if power.size_d is None else f"± {power.size_d:.2f}"


def place(state: ExamState, meridian_deg: int) -> tuple[str, str]:
    """A meridian of power as the examiner names it, and the same named the other way: ("streak 125", "sweep 035")."""
    streak = f"streak {written_axis(meridian_to_streak_deg(meridian_deg))}"
    along = written_axis(meridian_deg)
    return (streak, f"sweep {along}") if state.naming == "streak" else (f"meridian {along}", streak)


def signed(text: str) -> str:
    """The same text with true minus signs before digits, which are as wide as the plus."""
    shown = list(text)
    for at in range(len(text) - 1):
        if text[at] == "-" and text[at + 1].isdigit() and (at == 0 or text[at - 1] in " (±/"):
            shown[at] = "−"
    return "".join(shown)
