"""The logged result against the truth, and the first mistake in plain words. Pure."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final, Literal

from voicelog.exam.eye_state import EyeState
from voicelog.exam.pass_state import TakenReading
from voicelog.exam.state import ExamState
from voicelog.optics import (
    Difference,
    PowerVector,
    SpheroCylinder,
    WorkingDistance,
    difference,
    meridian_to_streak_deg,
    perpendicular_deg,
    written_axis,
    written_power,
)
from voicelog.practice.exercise import Exercise
from voicelog.practice.reflex import error_along_d

# Our own choice, no source: one and a half quarter steps, as in the log's own checks.
CLOSE_D: Final = 0.375
_NEUTRAL_D: Final = 0.25  # how well a slip that is supposed must explain the value
_PLAIN_SLIP_D: Final = 0.5  # below this, it was stopped too early rather than said wrongly
_DISTANCE_D: Final = 0.12

Code = Literal[
    "wrong_eye",
    "motion",
    "mirror",
    "sign",
    "turned_by_90",
    "other_habit",
    "cylinder_turned_by_90",
    "allowance_forgotten",
    "allowance_taken_twice",
    "stopped_early",
    "distance",
    "axis",
    "unfinished",
]


@dataclass(frozen=True, slots=True)
class Mistake:
    """What went wrong first: a code, the number of the entry (None: the exam as a whole), and words."""

    code: Code
    entry: int | None
    text: str


@dataclass(frozen=True, slots=True)
class Judgement:
    """`found` is None where the log has no result; `difference` is found less truth."""

    truth: SpheroCylinder
    found: SpheroCylinder | None
    difference: Difference | None
    mistake: Mistake | None

    @property
    def close(self) -> bool:
        """Whether the result is within one and a half quarter steps in every meridian."""
        return self.difference is not None and self.difference.largest_power_d <= CLOSE_D


def judge(exercise: Exercise, state: ExamState) -> Judgement:
    """Compare what was logged of the exercise's eye with the truth."""
    truth = exercise.model.refraction
    eye = state.eyes[exercise.eye]
    net = eye.solution.net
    apart = None if net is None else difference(net, truth)
    mistake = next(_mistakes(exercise, eye), None)
    if mistake is None and (apart is None or apart.largest_power_d > CLOSE_D):
        mistake = _whole(exercise, state, eye, net)
    return Judgement(truth, net, apart, mistake)


def _mistakes(exercise: Exercise, eye: EyeState) -> Iterator[Mistake]:
    """Of the readings that count: one that a later one took the place of has been put right."""
    superseded = {each.id for each in eye.in_hand.superseded}
    for reading in (each for each in eye.readings if each.id not in superseded):
        wrong = _wrong_reading(exercise, reading) or _wrong_allowance(exercise, reading)
        if wrong is not None:
            yield wrong


def _wrong_reading(exercise: Exercise, reading: TakenReading) -> Mistake | None:
    error = _error_d(exercise, reading.meridian_deg, _placed(reading))
    limit = CLOSE_D + 2.0 * exercise.model.tremor_d
    if reading.motion == "neutral":
        return None if abs(error) <= limit else _false_neutral(exercise, reading, error)
    if exercise.concave_mirror != (reading.entry.mirror == "concave"):
        set_to = "concave" if exercise.concave_mirror else "plane"
        text = (
            f"the mirror is {set_to} and the log was not told (mirror {set_to}): "
            "it takes every motion for its opposite"
        )
        return Mistake("mirror", reading.number, text)
    means_more_plus = (reading.motion == "with") != exercise.concave_mirror
    if (error if means_more_plus else -error) >= -limit:
        return None
    true = "against" if reading.motion == "with" else "with"
    text = f"{_named(reading)} was logged as {reading.motion}; the reflex moved {true}"
    return Mistake("motion", reading.number, text)


def _false_neutral(exercise: Exercise, reading: TakenReading, error: float) -> Mistake | None:
    slip = _slip(exercise, reading, error) if abs(error) > _PLAIN_SLIP_D else None
    if slip is not None:
        return slip
    still = "with" if (error > 0.0) != exercise.concave_mirror else "against"
    more = "plus" if error > 0.0 else "minus"
    text = (
        f"{_named(reading)} was logged as neutral too early: the reflex still moved {still}, "
        f"and {abs(error):.2f} D more {more} was needed"
    )
    return Mistake("stopped_early", reading.number, text)


def _slip(exercise: Exercise, reading: TakenReading, error: float) -> Mistake | None:
    """The known slip that explains a wrong neutral value best: with it put right, that meridian is neutral."""
    placed, meridian = _placed(reading), reading.meridian_deg
    allowance = exercise.scope.vergence_d
    supposed: list[tuple[float, Callable[[], Mistake]]] = [
        (_error_d(exercise, meridian, -placed), lambda: _lost_sign(reading)),
        (
            _error_d(exercise, int(perpendicular_deg(meridian)), placed),
            lambda: _turned(reading),
        ),
        (error - allowance, lambda: _net_named(reading, allowance)),
        (error + allowance, lambda: _put_on(reading, allowance)),
    ]
    if reading.lenses.cylinder_d:
        turned = _error_d(exercise, meridian, _cylinder_turned(reading))
        supposed.insert(0, (turned, lambda: _cylinder_across(reading)))
    left, explained = min(supposed, key=lambda each: abs(each[0]))
    return explained() if abs(left) <= _NEUTRAL_D else None


def _lost_sign(reading: TakenReading) -> Mistake:
    text = f"{_named(reading)}: with the other sign it would have been neutral; was the sign lost?"
    return Mistake("sign", reading.number, text)


def _cylinder_across(reading: TakenReading) -> Mistake:
    axis = written_axis(meridian_to_streak_deg(reading.meridian_deg))
    text = f"{_named(reading)}: the cylinder's axis is turned by 90 degrees; it lies along the streak, so axis {axis}"
    return Mistake("cylinder_turned_by_90", reading.number, text)


def _net_named(reading: TakenReading, allowance: float) -> Mistake:
    text = (
        f"{_named(reading)}: more minus by the allowance of {allowance:.2f} D than the neutral lens; name the lens "
        "that is in the frame, the log takes the allowance off itself, once"
    )
    return Mistake("allowance_taken_twice", reading.number, text)


def _put_on(reading: TakenReading, allowance: float) -> Mistake:
    text = (
        f"{_named(reading)}: more plus by the allowance of {allowance:.2f} D than the neutral lens; "
        "the allowance comes off once and is never put on"
    )
    return Mistake("allowance_forgotten", reading.number, text)


def _turned(reading: TakenReading) -> Mistake:
    if reading.entry.bare:
        text = (
            f"{_named(reading)}: true 90 degrees away; a bare direction was taken by the naming habit, and the other "
            'habit was meant. Say "streak" or "meridian", or set the habit with --naming'
        )
        return Mistake("other_habit", reading.number, text)
    text = (
        f"{_named(reading)}: true 90 degrees away; an upright streak examines the horizontal meridian, "
        "so streak and meridian differ by 90"
    )
    return Mistake("turned_by_90", reading.number, text)


def _wrong_allowance(exercise: Exercise, reading: TakenReading) -> Mistake | None:
    allowance = exercise.scope.vergence_d
    if reading.motion != "neutral" or reading.lens_in == exercise.lens_in:
        return None
    if reading.lens_in:
        text = (
            f"the log was told that the working lens is in, but it is not: the allowance of {allowance:.2f} D was "
            "forgotten, and the result is too plus by it"
        )
        return Mistake("allowance_forgotten", reading.number, text)
    text = (
        f"the working lens was in the frame and the log was not told (working lens in): the allowance of "
        f"{allowance:.2f} D was taken twice, and the result is too minus by it"
    )
    return Mistake("allowance_taken_twice", reading.number, text)


def _whole(exercise: Exercise, state: ExamState, eye: EyeState, net: SpheroCylinder | None) -> Mistake | None:
    other = state.eyes["left" if exercise.eye == "right" else "right"]
    if not eye.readings and other.readings:
        return Mistake(
            "wrong_eye", None, f"the eye before you was the {exercise.eye} one; the other was named"
        )
    if net is None:
        why = eye.problems[0].text if eye.problems else "no meridian was logged as neutral"
        return Mistake("unfinished", None, f"the log has no result: {why}")
    told = eye.neutral[-1].distance_cm
    if told is not None and not exercise.lens_in:
        off = WorkingDistance(told / 100.0).allowance_d - exercise.scope.vergence_d
        if abs(off) > _DISTANCE_D:
            text = (
                f"you sat at {exercise.distance_cm:g} cm and the log was told {told:g} cm: the sphere is off by "
                f"{abs(off):.2f} D"
            )
            return Mistake("distance", None, text)
    true_axis = exercise.model.refraction.minus_cylinder().axis_deg
    streaks = " and ".join(
        dict.fromkeys(written_axis(meridian_to_streak_deg(each.meridian_deg)) for each in eye.neutral)
    )
    if true_axis is None:
        return None
    text = (
        f"the streak was not along the band: it lay at {streaks}, and the eye's axes are "
        f"{written_axis(true_axis)} and {written_axis(perpendicular_deg(true_axis))}"
    )
    return Mistake("axis", None, text)


def _error_d(exercise: Exercise, meridian_deg: float, lenses: PowerVector) -> float:
    """Distance from neutral through lenses, the working lens of the exercise included, dioptres."""
    needed = exercise.model.refraction.vector - lenses - PowerVector(exercise.working_lens_d, 0.0, 0.0)
    return error_along_d(needed, meridian_to_streak_deg(meridian_deg), exercise.scope)


def _placed(reading: TakenReading) -> PowerVector:
    return reading.lenses.lens.vector


def _cylinder_turned(reading: TakenReading) -> PowerVector:
    lenses = reading.lenses
    axis = None if lenses.axis_deg is None else perpendicular_deg(lenses.axis_deg)
    return SpheroCylinder(lenses.sphere_d or 0.0, lenses.cylinder_d or 0.0, axis).vector


def _named(reading: TakenReading) -> str:
    streak = written_axis(meridian_to_streak_deg(reading.meridian_deg))
    power = written_power(reading.gross_d)
    return f"entry {reading.number} (streak {streak}, meridian {written_axis(reading.meridian_deg)}, {power})"
