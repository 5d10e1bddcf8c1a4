"""A reflex in plain words, what it asks for, and the steps of each technique."""

from collections.abc import Mapping
from typing import Final

from voicelog.optics import Form, axis_difference_deg, normalise_axis_deg, written_axis, written_cm
from voicelog.phrases.meanings import Naming
from voicelog.practice.exercise import Exercise, Technique
from voicelog.practice.eye import Glimpse
from voicelog.practice.kinds import kind_named
from voicelog.practice.reflex import Reflex
from voicelog.settings import Settings

# Where one word ends and the next begins; our own choice, no source.
_SPEEDS: Final = ((0.3, "very slow"), (1.0, "slow"), (3.0, "brisk"), (float("inf"), "fast"))
_BRIGHTNESSES: Final = (
    (0.3, "very dull"),
    (0.55, "dull"),
    (0.8, "fairly bright"),
    (float("inf"), "bright"),
)
_BROAD_SHARE: Final = 0.7
SMALLEST_TURN_DEG: Final = 2.0
TECHNIQUE_NAMES: Final[Mapping[Technique, str]] = {
    "spheres": "two spheres",
    "sphere-cylinder": "sphere, then cylinder",
    "cylinders": "two cylinders",
}


def seen(reflex: Reflex, streak_deg: float) -> str:
    """What is seen, in one sentence: motion, speed, width, brightness, and how the band lies to the streak."""
    brightness = _word(_BRIGHTNESSES, reflex.brightness)
    if reflex.motion == "still":
        text = f"a {brightness} reflex that hardly moves"
    elif reflex.motion == "neutral":
        text = f"no motion: the whole pupil, {brightness}, lights up at once and goes dark at once"
    else:
        text = (
            f"{reflex.motion} motion, {_word(_SPEEDS, reflex.speed)}; {_band(reflex)}, {brightness}"
            f"{_turned(reflex, streak_deg)}"
        )
    if reflex.second_mm is not None:
        text += "; a second band moves the other way, as scissors do: go by the middle of the pupil"
    return text


def glimpsed(glimpse: Glimpse) -> str:
    """What is seen in a look, in one sentence or two."""
    text = seen(glimpse.reflex, glimpse.streak_deg)
    if glimpse.near is None:
        return text
    return f"{text}. Now and then the child looks at the light: the pupil gets small and this motion goes; wait for it"


def hint(reflex: Reflex, streak_deg: float, *, concave: bool = False) -> str:
    """What the reflex asks for."""
    turn = turn_deg(reflex, streak_deg)
    if reflex.motion == "still":
        return "far from neutral: try a large lens, sphere +5.00 or sphere -5.00, and see which wakes it"
    if reflex.motion == "neutral":
        return f"this is neutrality: log it, as in: streak {streak_deg:.0f} neutral"
    if abs(turn) >= SMALLEST_TURN_DEG and reflex.band_deg is not None:
        return f"the streak is not along a principal meridian: lay it along the band, streak {reflex.band_deg:.0f}"
    more = "plus" if (reflex.motion == "with") != concave else "minus"
    why = " (the mirror is concave, which turns motions round)" if concave else ""
    return f"{reflex.motion} motion asks for more {more}{why}"


def turn_deg(reflex: Reflex, streak_deg: float) -> float:
    """Turn of the band from the streak, counter-clockwise as the examiner sees it, degrees; 0 where no band is seen."""
    return 0.0 if reflex.band_deg is None else axis_difference_deg(reflex.band_deg, streak_deg)


def _word(words: tuple[tuple[float, str], ...], value: float) -> str:
    return next(word for limit, word in words if value < limit)


def _band(reflex: Reflex) -> str:
    if reflex.fills_pupil:
        return "the band is wider than the pupil"
    broad = reflex.bright_mm >= _BROAD_SHARE * reflex.pupil_mm
    return "a broad band" if broad else "a narrow band"


def _turned(reflex: Reflex, streak_deg: float) -> str:
    turn = turn_deg(reflex, streak_deg)
    if abs(turn) < SMALLEST_TURN_DEG:
        return ", in line with the streak"
    way = "counter-clockwise" if turn > 0 else "clockwise"
    return f", turned {abs(turn):.0f} degrees {way} from the streak"


def setting(exercise: Exercise, settings: Settings) -> tuple[str, ...]:
    """What is set, in two sentences; of a graded exercise its kind and goal as well."""
    lens = f"{exercise.working_lens_d:+.2f} D, in the frame" if exercise.lens_in else "not in the frame"
    mirror = "concave" if exercise.concave_mirror else "plane"
    named = "streak" if settings.naming == "streak" else "meridian of power"
    return (
        f"Practice {exercise.seed}: a {exercise.eye} eye, {TECHNIQUE_NAMES[exercise.technique]}, "
        f"{settings.cylinder_form}-cylinder form.",
        f"You sit at {written_cm(exercise.distance_cm)}; working lens: {lens}; {mirror} mirror. "
        f"A bare direction names the {named}.",
        *_goal(exercise),
    )


def _goal(exercise: Exercise) -> tuple[str, ...]:
    if not exercise.kind:
        return ()
    kind = kind_named(exercise.kind)
    return (f"Kind: {kind.title}. Goal: {kind.goal_lenses} lenses, {kind.goal_minutes:g} minutes.",)


def steps(exercise: Exercise, settings: Settings) -> tuple[str, ...]:
    """How the exercise is done, step by step, with what to say."""
    return (
        _opening(exercise, settings),
        *_steps(exercise.technique, settings.cylinder_form, settings.naming),
    )


def _opening(exercise: Exercise, settings: Settings) -> str:
    """What the log cannot know."""
    told = [f"{exercise.eye} eye"]
    if settings.working_distance_cm is None:
        told.append(f"working distance {exercise.distance_cm:g}")
    if exercise.lens_in:
        told.append("working lens in")
    if exercise.concave_mirror:
        told.append("mirror concave")
    return f"Tell the log what is set, a line each: {'; '.join(told)}."


def _steps(technique: Technique, form: Form, naming: Naming) -> tuple[str, ...]:
    """How a technique is done; the examples have the streak vertical first."""
    first, second = _places(naming)
    axis = written_axis(normalise_axis_deg(180.0))
    order = (
        "the meridian that needs the more plus lens (its with motion lasts longest)"
        if form == "minus"
        else "the meridian that needs the less plus lens (it is neutral first)"
    )
    common = (
        "Lay the streak: streak vertical, streak horizontal, streak 35. Each time you see the reflex.",
        "If the band is turned from the streak, lay the streak along the band: that finds the axis.",
        "Put lenses before the eye: sphere plus one. With motion asks for more plus, against for more minus.",
    )
    last: Mapping[Technique, tuple[str, ...]] = {
        "spheres": (
            f"When there is no motion, log the meridian: {first} neutral at plus three.",
            f"Turn the streak by 90 degrees and do the same with spheres: {second} neutral at plus one fifty.",
        ),
        "sphere-cylinder": (
            f"Begin with {order}; log it: {first} neutral with sphere plus three.",
            "Leave the sphere in and turn the streak by 90 degrees. Add a cylinder, its axis along the streak: "
            f"cylinder {form} one fifty axis {axis}.",
            f"When there is no motion, log it: {second} neutral.",
        ),
        "cylinders": (
            "Make each meridian neutral with a cylinder, its axis along the streak. "
            f"Say: {first} neutral with cylinder plus three axis ninety.",
            "Turn the streak by 90 degrees, and the next cylinder with it. "
            f"Say: {second} neutral with cylinder plus one fifty axis {axis}.",
        ),
    }
    return (*common, *last[technique])


def _places(naming: Naming) -> tuple[str, str]:
    return ("streak vertical", "streak horizontal") if naming == "streak" else ("meridian 180", "meridian 90")
