"""The logged result against the truth, and the first mistake in plain words. Pure."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from voicelog.exam.eye_state import EyeState
from voicelog.exam.pass_state import TakenReading
from voicelog.exam.state import ExamState
from voicelog.optics import (
    Difference,
    PowerVector,
    SpheroCylinder,
    WorkingDistance,
    axis_difference_deg,
    difference,
    meridian_to_streak_deg,
    perpendicular_deg,
    written_axis,
    written_cm,
)
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import Glimpse
from voicelog.practice.mistakes import Mistake
from voicelog.practice.off_axis import off_axis_change
from voicelog.practice.slips import error_d, named, placed_lenses, slip
from voicelog.practice.telling import turn_deg

# Our own choice, no source: one and a half quarter steps, as in the log's own checks.
CLOSE_D: Final = 0.375
_PLAIN_SLIP_D: Final = 0.5  # below this, it was stopped too early rather than said wrongly
_DISTANCE_D: Final = 0.12
_PLAIN_TURN_DEG: Final = 8.0  # a turn that nobody overlooks who looks for it

LooksBefore = Mapping[str, Sequence[Glimpse]]
"""Looks that came before a reading was said, by the reading's id."""


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


def judge(exercise: Exercise, state: ExamState, looks: LooksBefore | None = None) -> Judgement:
    """Compare what was logged of the exercise's eye with the truth. `looks`: what was seen before each reading."""
    truth = exercise.model.refraction
    eye = state.eyes[exercise.eye]
    net = eye.solution.net
    apart = None if net is None else difference(net, truth)
    close = apart is not None and apart.largest_power_d <= CLOSE_D
    mistake = next(_mistakes(exercise, eye, looks or {}, close=close), None)
    if mistake is None and not close:
        mistake = _whole(exercise, state, eye, net)
    return Judgement(truth, net, apart, mistake)


def _mistakes(exercise: Exercise, eye: EyeState, looks: LooksBefore, *, close: bool) -> Iterator[Mistake]:
    """Of the readings that count: one that a later one took the place of has been put right.

    What a reading may have been wrong by is judged in the order in which causes come: what was seen (the motion
    misread, neutral called early, a turned band not followed), then the sum, then the words.
    """
    superseded = {each.id for each in eye.in_hand.superseded}
    for reading in (each for each in eye.readings if each.id not in superseded):
        before = looks.get(reading.id, ())
        wrong = _wrong_reading(exercise, reading, before)
        if wrong is None and not close:
            wrong = _turned_band(reading, before)
        wrong = wrong or _wrong_allowance(exercise, reading)
        if wrong is not None:
            yield wrong


def _wrong_reading(exercise: Exercise, reading: TakenReading, before: Sequence[Glimpse]) -> Mistake | None:
    error = error_d(exercise, reading.meridian_deg, placed_lenses(reading))
    limit = CLOSE_D + 2.0 * exercise.model.tremor_d
    if reading.motion == "neutral":
        return None if abs(error) <= limit else _false_neutral(exercise, reading, error, before)
    if exercise.concave_mirror != (reading.entry.mirror == "concave"):
        set_to = "concave" if exercise.concave_mirror else "plane"
        text = (
            f"the mirror is {set_to}, and the log was not told (say: mirror {set_to}). "
            "So it takes with for against, and against for with"
        )
        return Mistake("mirror", reading.number, text)
    means_more_plus = (reading.motion == "with") != exercise.concave_mirror
    if (error if means_more_plus else -error) >= -limit:
        return None
    true = "against" if reading.motion == "with" else "with"
    text = f"{named(reading)} was logged as {reading.motion}; the reflex moved {true}"
    return Mistake("motion", reading.number, text, _looked_through(reading, before))


def _false_neutral(
    exercise: Exercise, reading: TakenReading, error: float, before: Sequence[Glimpse]
) -> Mistake | None:
    """A learner who looked through this very lens saw the motion: that comes before any slip of words."""
    more = "plus" if error > 0.0 else "minus"
    needed = f"{abs(error):.2f} D more {more} was needed"
    look = _looked_through(reading, before)
    if abs(error) > _PLAIN_SLIP_D and look is not None and look.reflex.motion != "neutral":
        moved = "hardly moved, as it does far from neutral" if look.reflex.motion == "still" else None
        text = (
            f"{named(reading)} was logged as neutral, and through that lens the reflex "
            f"{moved or 'moved ' + look.reflex.motion}: {needed}"
        )
        return Mistake("motion", reading.number, text, look)
    explained = slip(exercise, reading, error) if abs(error) > _PLAIN_SLIP_D else None
    if explained is not None:
        return explained
    still = "with" if (error > 0.0) != exercise.concave_mirror else "against"
    text = f"{named(reading)} was called neutral too early. The reflex still moved {still}; {needed}"
    return Mistake("stopped_early", reading.number, text, look)


def _turned_band(reading: TakenReading, before: Sequence[Glimpse]) -> Mistake | None:
    """The last band seen at this streak was plainly turned, and the streak was not laid along it."""
    streak = meridian_to_streak_deg(reading.meridian_deg)
    here = [look for look in before if _is_at(look, streak) and look.reflex.band_deg is not None]
    if not here or here[-1].reflex.band_deg is None:
        return None
    turn = abs(turn_deg(here[-1].reflex, streak))
    if turn < _PLAIN_TURN_DEG:
        return None
    text = (
        f"{named(reading)}: the band was turned {turn:.0f} degrees from the streak, "
        f"and the streak was not laid along it, at {written_axis(here[-1].reflex.band_deg)}"
    )
    return Mistake("axis", reading.number, text, here[-1])


def _looked_through(reading: TakenReading, before: Sequence[Glimpse]) -> Glimpse | None:
    """The last look through the reading's lens along its streak, before it was said."""
    streak, vector = meridian_to_streak_deg(reading.meridian_deg), placed_lenses(reading)
    same = [look for look in before if _is_at(look, streak) and _is_alike(look.lenses.vector, vector)]
    return same[-1] if same else None


def _is_at(look: Glimpse, streak_deg: float) -> bool:
    return abs(axis_difference_deg(look.streak_deg, streak_deg)) < 1.0


def _is_alike(one: PowerVector, other: PowerVector) -> bool:
    return (one - other).blur_strength_d < 0.01


def _wrong_allowance(exercise: Exercise, reading: TakenReading) -> Mistake | None:
    allowance = exercise.scope.vergence_d
    if reading.motion != "neutral" or reading.lens_in == exercise.lens_in:
        return None
    if reading.lens_in:
        text = (
            f"the log was told that the working lens is in, but it is not. So {allowance:.2f} D were not taken off; "
            f"the result is {allowance:.2f} D too plus"
        )
        return Mistake("allowance_forgotten", reading.number, text)
    text = (
        f"the working lens was in the frame, and the log was not told (say: working lens in). So {allowance:.2f} D "
        f"were taken off twice; the result is {allowance:.2f} D too minus"
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
                f"you sat at {written_cm(exercise.distance_cm)} and the log was told {written_cm(told)}: "
                f"the sphere is off by {abs(off):.2f} D"
            )
            return Mistake("distance", None, text)
    if exercise.off_axis_deg:
        text = (
            f"you sat {abs(exercise.off_axis_deg):g} degrees to the side of the line of sight: from there the eye "
            f"measures up to {off_axis_change(exercise.off_axis_deg).largest_power_d:.2f} D otherwise"
        )
        return Mistake("off_axis", None, text)
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
