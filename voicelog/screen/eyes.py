"""What is shown of one eye on every screen: its readings, what they leave open, its passes, dry and wet. Pure."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from voicelog.exam.advising import all_looks_words
from voicelog.exam.entries import Allowance, Dryness
from voicelog.exam.eye_state import EyeState
from voicelog.exam.pass_state import TakenReading, Writing
from voicelog.exam.passes import apart
from voicelog.optics import written_axis, written_power

CONDITION_WORDS: Final[dict[Dryness, str]] = {"dry": "dry", "wet": "wet (cycloplegic)"}


@dataclass(frozen=True, slots=True)
class ShownReading:
    """One reading as texts; `taken` is what it was taken with where that differs from what is in force now."""

    id: str
    streak: str
    along: str
    seen: str
    gross: str
    net: str
    taken: str
    superseded: bool


def shown_readings(eye: EyeState, allowance: Allowance) -> tuple[ShownReading, ...]:
    """The readings of the pass in hand, in order; `allowance` is the one in force now."""
    superseded = {each.id for each in eye.in_hand.superseded}
    return tuple(
        _reading(each, allowance, eye.writing, superseded=each.id in superseded) for each in eye.readings
    )


def _reading(
    reading: TakenReading, allowance: Allowance, writing: Writing, *, superseded: bool
) -> ShownReading:
    known = reading.net_d is not None and reading.motion == "neutral"
    parts = [] if reading.allowance == allowance else [reading.allowance.words()]
    if reading.entry.mirror == "concave":
        parts.append("concave mirror")
    return ShownReading(
        id=reading.id,
        streak=written_axis(reading.entry.streak_deg),
        along=written_axis(reading.meridian_deg),
        seen=reading.motion,
        gross=writing.gross_words(reading.gross_d),
        net=writing.power_words(reading.net_d or 0.0) if known else "",
        taken=", ".join(parts),
        superseded=superseded,
    )


def condition_words(eye: EyeState) -> str:
    """Whether the pass in hand is dry or wet; before its first reading, what it will be."""
    return CONDITION_WORDS[eye.condition if eye.pass_opened or not eye.passes else eye.in_hand.condition]


def progress_words(eye: EyeState) -> str:
    """How far an eye is that has no refraction yet."""
    if not eye.passes:
        return "not begun"
    if not eye.neutral:
        return "nothing neutral yet"
    if len(eye.neutral) > 1:
        return "distance not said" if any(each.net_d is None for each in eye.neutral) else "not determined"
    (only,) = eye.neutral
    along = written_axis(only.meridian_deg)
    if only.net_d is None:
        return f"{eye.writing.gross_words(only.gross_d)} gross along {along}"
    return f"{eye.writing.power_words(only.net_d)} along {along}"


def lens_words(allowance: Allowance) -> str:
    """The working distance lens: "out", "in", "+1.50 in"."""
    if not allowance.lens_in:
        return "out"
    return "in" if allowance.lens_d is None else f"{written_power(allowance.lens_d)} in"


def estimate_words(eye: EyeState) -> str:
    """What every look of an eye says together, "all looks: about +0.75 ± 0.6, from 7 looks"; how far it is yet.

    Nothing where the neutral lenses alone say the same, nor before the motions bound the eye or it is solved.
    """
    if all(each.motion == "neutral" for each in eye.readings):
        return ""
    if eye.solution.net is not None:
        return f"all looks: {all_looks_words(eye)}"
    bounded = eye.solution.found.estimate is not None
    return f"all looks: {all_looks_words(eye)}; not neutral yet" if bounded else ""


def result_words(eye: EyeState) -> tuple[tuple[str, str], ...]:
    """The result of each condition with its name, dry first, side by side; nothing where all is of one."""
    if len(eye.conditions) < 2:
        return ()
    return tuple(
        (CONDITION_WORDS[condition], str(eye.result_of(condition) or "no result"))
        for condition in eye.conditions
    )


@dataclass(frozen=True, slots=True)
class PassRow:
    """One pass of an eye, or the mean of several (`note` then says how far they lie apart); texts."""

    name: str
    condition: Dryness
    result: str
    note: str = ""


def pass_rows(eye: EyeState) -> tuple[PassRow, ...]:
    """Where an eye is read more than once: each pass with its result, the one that was begun last, and the means."""
    if len(eye.passes) < 2 and not eye.pass_opened:
        return ()
    return tuple(_pass_rows(eye))


def _pass_rows(eye: EyeState) -> Iterator[PassRow]:
    for each in eye.passes:
        yield PassRow(f"pass {each.number}", each.condition, str(each.solution.net or each.status))
    if eye.pass_opened:
        yield PassRow(f"pass {eye.next_pass_number}", eye.condition, "no reading yet")
    for condition in eye.conditions:
        mean = eye.mean_of(condition)
        if mean is not None:
            yield PassRow(f"mean of {mean.count} passes", condition, str(mean.net), apart(mean))


def pass_words(eye: EyeState) -> tuple[str, ...]:
    """The passes in a line each; whether dry or wet where they are not all dry."""
    rows = [each for each in pass_rows(eye) if not each.note]
    mixed = any(each.condition == "wet" for each in rows)
    return tuple(f"{each.name}{f', {each.condition}' if mixed else ''}: {each.result}" for each in rows)


def mean_words(eye: EyeState) -> tuple[tuple[str, str], ...]:
    """What several passes of one condition make together, and how far they lie apart; dry and wet by themselves."""
    found = []
    for condition in eye.conditions:
        mean = eye.mean_of(condition)
        if mean is not None:
            of = f" {condition}" if len(eye.conditions) > 1 else ""
            found.append((f"mean of {mean.count}{of} passes: {mean.net}", apart(mean)))
    return tuple(found)
