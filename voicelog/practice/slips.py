"""Known slips of the tongue, the sum and the habit, that explain a neutral value which cannot be. Pure."""

from collections.abc import Callable
from typing import Final

from voicelog.exam.pass_state import TakenReading
from voicelog.optics import (
    PowerVector,
    SpheroCylinder,
    meridian_to_streak_deg,
    perpendicular_deg,
    written_axis,
    written_power,
)
from voicelog.practice.exercise import Exercise
from voicelog.practice.mistakes import Mistake
from voicelog.practice.off_axis import off_axis_change
from voicelog.practice.reflex import error_along_d

_NEUTRAL_D: Final = 0.25
"""How well a slip that is supposed must explain the value; our own choice, no source."""


def slip(exercise: Exercise, reading: TakenReading, error: float) -> Mistake | None:
    """The known slip that explains a wrong neutral value best: with it put right, that meridian is neutral."""
    placed, meridian = placed_lenses(reading), reading.meridian_deg
    allowance = exercise.scope.vergence_d
    supposed: list[tuple[float, Callable[[], Mistake]]] = [
        (error_d(exercise, meridian, -placed), lambda: _lost_sign(reading)),
        (
            error_d(exercise, int(perpendicular_deg(meridian)), placed),
            lambda: _turned(reading),
        ),
        (error - allowance, lambda: _net_named(reading, allowance)),
        (error + allowance, lambda: _put_on(reading, allowance)),
    ]
    if reading.lenses.cylinder_d:
        turned = error_d(exercise, meridian, _cylinder_turned(reading))
        supposed.insert(0, (turned, lambda: _cylinder_across(reading)))
    left, explained = min(supposed, key=lambda each: abs(each[0]))
    return explained() if abs(left) <= _NEUTRAL_D else None


def _lost_sign(reading: TakenReading) -> Mistake:
    text = f"{named(reading)}: with the other sign it would have been neutral; was the sign lost?"
    return Mistake("sign", reading.number, text)


def _cylinder_across(reading: TakenReading) -> Mistake:
    axis = written_axis(meridian_to_streak_deg(reading.meridian_deg))
    text = f"{named(reading)}: the cylinder's axis is turned by 90 degrees; it lies along the streak, so axis {axis}"
    return Mistake("cylinder_turned_by_90", reading.number, text)


def _net_named(reading: TakenReading, allowance: float) -> Mistake:
    text = (
        f"{named(reading)}: {allowance:.2f} D more minus than the neutral lens, which is the allowance. "
        "Name the lens that is in the frame; the log takes the allowance off, once"
    )
    return Mistake("allowance_taken_twice", reading.number, text)


def _put_on(reading: TakenReading, allowance: float) -> Mistake:
    text = (
        f"{named(reading)}: {allowance:.2f} D more plus than the neutral lens, which is the allowance. "
        "It comes off once and is never put on"
    )
    return Mistake("allowance_forgotten", reading.number, text)


def _turned(reading: TakenReading) -> Mistake:
    if reading.entry.bare:
        text = (
            f"{named(reading)}: true 90 degrees away. You named a direction alone, and the log took it by the other "
            'habit. Say "streak" or "meridian", or set your habit with --naming'
        )
        return Mistake("other_habit", reading.number, text)
    text = (
        f"{named(reading)}: true 90 degrees away. An upright streak tells of the horizontal meridian; "
        "the two always differ by 90"
    )
    return Mistake("turned_by_90", reading.number, text)


def error_d(exercise: Exercise, meridian_deg: float, lenses: PowerVector) -> float:
    """Distance from neutral through lenses, the working lens of the exercise included, dioptres."""
    seen = exercise.model.refraction.vector + off_axis_change(exercise.off_axis_deg)
    needed = seen - lenses - PowerVector(exercise.working_lens_d, 0.0, 0.0)
    return error_along_d(needed, meridian_to_streak_deg(meridian_deg), exercise.scope)


def placed_lenses(reading: TakenReading) -> PowerVector:
    return reading.lenses.lens.vector


def _cylinder_turned(reading: TakenReading) -> PowerVector:
    lenses = reading.lenses
    axis = None if lenses.axis_deg is None else perpendicular_deg(lenses.axis_deg)
    return SpheroCylinder(lenses.sphere_d or 0.0, lenses.cylinder_d or 0.0, axis).vector


def named(reading: TakenReading) -> str:
    streak = written_axis(meridian_to_streak_deg(reading.meridian_deg))
    power = written_power(reading.gross_d)
    return f"entry {reading.number} (streak {streak}, meridian {written_axis(reading.meridian_deg)}, {power})"
