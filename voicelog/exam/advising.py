"""What every look of an eye says together, and the look that would tell most: worked out when asked for, never entered.

It stands beside the plain result: status and net are the plain rule's.
"""

from collections.abc import Sequence
from functools import lru_cache
from typing import Final, Literal

from voicelog.exam.entries import Allowance, ReadingEntry, TechniqueEntry
from voicelog.exam.entries.lenses import CylinderLens, TrialLenses
from voicelog.exam.entries.reading import place_words
from voicelog.exam.eye_state import EyeState
from voicelog.exam.solving import looks_in_hand
from voicelog.exam.standing import EyeName
from voicelog.exam.starting import NOTHING_BEFORE, before_distance
from voicelog.exam.state import ExamState
from voicelog.optics import (
    BELONGS_DEG,
    COMMON_LENS_SET,
    ErrorModel,
    LensSet,
    LensSetError,
    Look,
    axis_difference_deg,
    meridian_to_streak_deg,
    round_refraction,
    streak_to_meridian_deg,
    written_axis,
    written_power,
)
from voicelog.optics.belief import (
    NOISE_SPREAD,
    USUAL_DISTANCE_M,
    Belief,
    Enough,
    Glance,
    InPlace,
    LookModel,
    NextLook,
    Prior,
    Speed,
    Technique,
    advise,
    believe,
)

ENOUGH: Final = "enough, both meridians within a quarter, 95 %"
_DULL: Final = ("dull", "dim")
_TECHNIQUES: Final[dict[str, Technique]] = {
    "spheres": "spheres",
    "sphere_cylinder": "sphere-cylinder",
    "cylinders": "cylinders",
}


def belief_of(eye: EyeState, now: Allowance | None = None) -> Belief:
    """What the looks of the pass in hand say together; net where the distance is known, else as the lenses are.

    It begins from what was asked for. `now` is the allowance in force, for an eye without a look.
    """
    known = eye.before != NOTHING_BEFORE
    if known and not eye.readings and now is not None and now.taken_off_d is not None:
        model = _model(now.distance_cm, now.distance_sd_d, *_judging(eye))
        prior = eye.before.prior(eye.condition)
        return believe([], allowance_d=max(0.0, now.taken_off_d), prior=prior, model=model)
    prior = eye.before.prior(eye.in_hand.condition) if is_net(eye) else before_distance(eye.before)
    return _believed(tuple(each.entry for each in eye.readings), *_judging(eye), prior)


def _judging(eye: EyeState) -> tuple[float, float]:
    """How unevenly neutral is judged (dioptres), and how far one examiner is from that."""
    # The spread is that between examiners: what one examiner's own exams found is theirs.
    spread = NOISE_SPREAD if eye.writing.neutrality_sd_d is None else 0.0
    return eye.writing.judged_sd_d, spread


@lru_cache(maxsize=64)
def _believed(
    readings: tuple[ReadingEntry, ...], neutrality_sd_d: float, spread: float, prior: Prior
) -> Belief:
    hand = looks_in_hand(readings)
    glances = [
        _glance(readings[index], look, hand.looks[:place])
        for place, (index, look) in enumerate(zip(hand.indices, hand.looks, strict=True))
    ]
    distance_cm = readings[-1].allowance.distance_cm if readings else None
    allowance_sd_d = max((each.allowance.distance_sd_d for each in readings), default=0.0)
    model = _model(distance_cm, allowance_sd_d, neutrality_sd_d, spread)
    return believe(glances, allowance_d=hand.allowance_d, prior=prior, model=model)


def _model(
    distance_cm: float | None, allowance_sd_d: float, neutrality_sd_d: float, spread: float
) -> LookModel:
    return LookModel(
        ErrorModel(allowance_sd_d=allowance_sd_d, neutrality_sd_d=neutrality_sd_d),
        distance_m=USUAL_DISTANCE_M if distance_cm is None else distance_cm / 100.0,
        all_told=True,
        noise_spread=spread,
    )


def _glance(reading: ReadingEntry, look: Look, before: Sequence[Look]) -> Glance:
    """A look with what was said of it. A neutral lens without a look before it along its meridian was found unheard."""
    found = not any(
        abs(axis_difference_deg(each.meridian_deg, look.meridian_deg)) <= BELONGS_DEG for each in before
    )
    speed: Speed | None = None
    if reading.motion != "neutral":
        speed = "fast" if "fast" in reading.manner else "slow" if "slow" in reading.manner else None
    return Glance(look, speed, dull=any(word in reading.manner for word in _DULL), found=found)


def next_look(state: ExamState, named: EyeName | None, lens_set: LensSet = COMMON_LENS_SET) -> str:
    """The look that tells most of an eye, in words, with lenses of the set alone; or that it is enough."""
    name = named or state.eye
    if name is None:
        return "no eye was named yet"
    try:
        told = advised_look(state, name, lens_set)
    except LensSetError as error:
        return f"{name} eye: {error}"
    if isinstance(told, Enough):
        eye = state.eyes[name]
        return f"{name} eye: {ENOUGH}: {_estimate(eye, belief_of(eye))}"
    return f"{name} eye: {_look_words(told, state)}{_unfit_words(belief_of(state.eyes[name]))}"


def advised_look(state: ExamState, name: EyeName, lens_set: LensSet = COMMON_LENS_SET) -> NextLook | Enough:
    """The look that tells most of an eye, with lenses of the set alone; or that it is enough. Raises LensSetError."""
    eye = state.eyes[name]
    technique = state.findings.last(TechniqueEntry)
    streak = None if eye.meridian_deg is None else meridian_to_streak_deg(eye.meridian_deg)
    return advise(
        belief_of(eye, state.allowance),
        InPlace(eye.lenses.lens, streak),
        lens_set=lens_set,
        technique="spheres" if technique is None else _TECHNIQUES[technique.technique],
    )


def _look_words(told: NextLook, state: ExamState) -> str:
    """ "streak vertical (power along 180), sphere +2.25"."""
    place = place_words(int(streak_to_meridian_deg(told.streak_deg)), state.naming)
    lens = told.lens
    cylinder = None
    if lens.axis_deg is not None:
        cylinder = CylinderLens(power_d=lens.cylinder_d, axis_deg=int(lens.axis_deg))
    sphere_d = lens.sphere_d if lens.sphere_d or cylinder is None else None
    return f"{place}, {TrialLenses(sphere_d=sphere_d, cylinder=cylinder).words()}"


def estimates(state: ExamState, named: EyeName | None, eyes: Sequence[EyeName]) -> str:
    """What all looks of an eye, or of every eye that has some, make: the estimate, its 95 %, and what does not fit."""
    wanted = [name for name in ((named,) if named else eyes) if state.eyes[name].readings]
    return (
        "; ".join(f"{name} eye: {all_looks_words(state.eyes[name])}" for name in wanted) or "nothing read yet"
    )


def all_looks_words(eye: EyeState) -> str:
    """One eye's estimate in words, with what it rests on and the looks that do not fit."""
    belief = belief_of(eye)
    readings = [each.entry for each in eye.readings]
    odd = [readings[looks_in_hand(readings).indices[slip]].short_words() for slip in belief.slips]
    doubt = f"; does not fit: {', '.join(odd)}" if odd else ""
    gross = "" if is_net(eye) else ", gross"
    own = eye.writing.neutrality_sd_d
    judged = "" if own is None else f", neutral judged to {own:g} D, as in your own exams"
    return (
        f"about {_estimate(eye, belief)}{gross}, from {belief.rests_on}{judged}{doubt}{_unfit_words(belief)}"
    )


def _unfit_words(belief: Belief) -> str:
    """That the eye is not what the estimate began from; empty where it may be."""
    return "" if belief.start_fits else f"; the start does not fit this eye: {belief.prior.name}"


def is_net(eye: EyeState) -> bool:
    """Whether what all looks say is net: the distance is known of some that count, and those alone are taken."""
    readings = [each.entry for each in eye.readings]
    return any(readings[index].net_d is not None for index in looks_in_hand(readings).indices)


def step_words(eye: EyeState, least: float = 0.05) -> tuple[str, ...]:
    """How likely each step of written power is in both principal meridians: "along 180: +1.00 (71 %), +1.25 (26 %)".

    `least` is the share from which a step is told. Net or gross as `is_net` says.
    """
    belief = belief_of(eye)
    told = []
    for meridian_deg in sorted(belief.principal_deg):
        chances = belief.step_chances(meridian_deg, eye.writing.power_step_d)
        steps = [f"{written_power(step)} ({share:.0%})" for step, share in chances.items() if share >= least]
        told.append(f"along {written_axis(meridian_deg)}: {', '.join(steps) or 'open'}".replace("%", " %"))
    return tuple(told)


def _estimate(eye: EyeState, belief: Belief) -> str:
    form: Literal["minus", "plus"] = eye.writing.form
    lens = round_refraction(belief.estimate, eye.writing.power_step_d, eye.writing.axis_step_deg, form)
    return belief.uncertainty_in(form).text(lens)
