"""An entry reduced to what can be read from two metres, and small texts of the page."""

from dataclasses import dataclass

from voicelog.exam import said_parts, wording
from voicelog.exam.entries import (
    DistanceEntry,
    Entry,
    EyeEntry,
    LensesEntry,
    NoteEntry,
    ReadingEntry,
    TrialLenses,
    WorkingLensEntry,
    eye_words,
)
from voicelog.exam.entries.base import BaseFinding
from voicelog.exam.state import ExamState
from voicelog.optics import meridian_to_streak_deg, written_axis, written_cm, written_power
from voicelog.phrases import meanings as say

_LONGEST_HUGE = 14  # characters that still fit in the largest letters


@dataclass(frozen=True, slots=True)
class Value:
    """`huge` is read at a glance, `words` say the whole entry."""

    huge: str
    words: str


def said_value(meaning: say.Meaning) -> Value:
    """What was said and is not entered yet, gaps and all."""
    return _fitted(_huge_said(meaning), wording.meaning(meaning))


def entered_value(entry: Entry, words: str) -> Value:
    """What was entered, with what was said back of it."""
    return _fitted(_huge(entry), words)


def entered_glance(entry: Entry) -> tuple[str, str]:
    """The value of an entry alone, and what it is of: ("+2.25", ""), ("67 cm", "working distance").

    Of a reading and of lenses the place is another matter, so that what they are is empty.
    """
    match entry:
        case ReadingEntry() if entry.lenses.empty and entry.motion == "neutral":
            return "neutral, no lens", ""
        case ReadingEntry() | LensesEntry():
            return _huge(entry), ""
        case NoteEntry():
            return entry.value_words(), "note"
        case BaseFinding():
            value, label = entry.value_words(), entry.label.strip(", ")
            return value, "" if label in value else label
    words = entry.words().removeprefix(eye_words(entry.about))
    if isinstance(entry, DistanceEntry | WorkingLensEntry):
        return words.removeprefix(entry.title).strip(), entry.title
    return words.removesuffix(" from here on"), ""


def said_glance(meaning: say.Meaning) -> str:
    """The value of what was said and is not entered yet."""
    return _huge_said(meaning)


def _fitted(huge: str, words: str) -> Value:
    return Value(huge if huge and len(huge) <= _LONGEST_HUGE else "", words)


def _huge(entry: Entry) -> str:
    match entry:
        case ReadingEntry():
            named = _named(entry)
            seen = "" if entry.motion == "neutral" and named else entry.motion
            return " ".join(part for part in (seen, "~" if entry.approximate else "", named) if part)
        case LensesEntry():
            return _named(entry) or entry.lenses.words()
        case DistanceEntry(distance_cm=distance_cm):
            return written_cm(distance_cm)
        case EyeEntry():
            return entry.words()
        case _:
            return ""


def _named(entry: ReadingEntry | LensesEntry) -> str:
    """The lenses that the entry itself put there."""
    lenses = entry.lenses
    sphere_d = None if entry.sphere_from is not None else lenses.sphere_d
    cylinder = None if entry.cylinder_from is not None else lenses.cylinder
    return _written(TrialLenses(sphere_d=sphere_d, cylinder=cylinder))


def _written(lenses: TrialLenses) -> str:
    """ "+2.25", "-1.50 x 030", "+2.25 -1.50 x 030"."""
    parts = [] if lenses.sphere_d is None else [written_power(lenses.sphere_d)]
    if lenses.cylinder is not None:
        parts.append(f"{written_power(lenses.cylinder.power_d)} x {written_axis(lenses.cylinder.axis_deg)}")
    return " ".join(parts)


def _huge_said(meaning: say.Meaning) -> str:  # one line a kind, as in exam/wording.py
    match meaning:
        case say.Reading(lens=None, motion=motion):
            return motion.replace("_", " ")
        case say.Reading(lens=say.Lens() as lens, motion=motion) if motion != "neutral":
            return f"{motion.replace('_', ' ')} {_lens(lens)}"
        case say.Reading(lens=say.Lens() as lens) | say.Lenses(lens=say.Lens() as lens):
            return _lens(lens)
        case say.Correction(entry=entry):
            return _huge_said(entry)
        case say.Change(power=new) | say.NotBut(right=new) | say.LoosePower(power=new):
            return _power(new)
        case say.LooseAxis(axis_deg=axis):
            return f"x {said_parts.angle(axis)}"
        case say.WorkingDistance(distance_cm=distance):
            return written_cm(distance)
        case _:
            return wording.meaning(meaning)


def _lens(lens: say.Lens) -> str:
    if lens.same:
        return "the same"
    parts = [_power(lens.sphere)] if lens.sphere is not None else []
    if lens.cylinder is not None:
        axis = lens.cylinder.axis_deg
        parts.append(f"{_power(lens.cylinder.power)} x {said_parts.angle(axis) if axis else '?'}")
    return ("add " if lens.on_top else "") + " ".join(parts)


def _power(power: say.Power) -> str:
    if power.dioptres is not None:
        return written_power(power.dioptres)
    return "?" if power.size_d is None else f"± {power.size_d:.2f}"


def place(state: ExamState, meridian_deg: int) -> tuple[str, str]:
    """A meridian of power as the examiner names it, and named the other way: ("streak 125", "power along 035")."""
    streak = f"streak {written_axis(meridian_to_streak_deg(meridian_deg))}"
    along = written_axis(meridian_deg)
    return (streak, f"power along {along}") if state.naming == "streak" else (f"meridian {along}", streak)


def signed(text: str) -> str:
    """The same text with true minus signs before digits, which are as wide as the plus."""
    shown = list(text)
    for at in range(len(text) - 1):
        if text[at] == "-" and text[at + 1].isdigit() and (at == 0 or text[at - 1] in " (±/"):
            shown[at] = "−"
    return "".join(shown)
