"""One thing said that makes other entries, or several: both meridians, both eyes, an eye named within a reading."""

from collections.abc import Iterator

from voicelog.exam.entries import across_deg
from voicelog.exam.standing import EYES
from voicelog.exam.state import ExamState
from voicelog.optics import meridian_to_streak_deg
from voicelog.phrases import meanings as say


def split(state: ExamState, meaning: say.Meaning) -> Iterator[say.Meaning]:
    """The parts in the order they are taken; most meanings are one part."""
    match meaning:
        case say.Reading(eye="both"):
            for eye in EYES:
                yield meaning.model_copy(update={"eye": eye})
        case say.Reading(eye="right" | "left" as eye) if eye != state.eye:
            yield say.Eye(eye=eye)
            yield meaning.model_copy(update={"eye": None})
        case say.Reading(eye="other") if state.eye is not None:
            other: say.OneEye = "left" if state.eye == "right" else "right"
            yield from split(state, meaning.model_copy(update={"eye": other}))
        case say.SameDistance():
            distance_cm = _distance_of_other_eye_cm(state)
            yield meaning if distance_cm is None else say.WorkingDistance(distance=distance_cm)
        case say.Refined(acuity=value) if value is not None:
            yield from split(state, meaning.model_copy(update={"acuity": None}))
            yield say.Acuity(eye=meaning.eye, correction="refined", value=value)
        case say.Addition(near=value) if value is not None:
            yield meaning.model_copy(update={"near": None})
            yield say.Acuity(eye=meaning.eye or "both", value=value)
        case say.Refined(eye="both") | say.Spectacles(eye="both"):
            for eye in EYES:
                yield meaning.model_copy(update={"eye": eye})
        case say.Reflex(eye="both"):
            for eye in EYES:
                yield meaning.model_copy(update={"eye": eye})
        case _:
            yield meaning


def _distance_of_other_eye_cm(state: ExamState) -> float | None:
    """Where the last reading of the other eye was taken; None without one."""
    if state.eye is None:
        return None
    readings = state.eyes["left" if state.eye == "right" else "right"].readings
    return readings[-1].distance_cm if readings else None


def entries_of(state: ExamState, meaning: say.Meaning, *, late: bool = False) -> Iterator[say.Meaning]:
    """What is entered of one part: neutral "in both" or "all round" is neutral in both principal meridians.

    The second has the lenses that the first put in place; entered `late`, behind its question, it names them itself.
    """
    if not isinstance(meaning, say.Reading) or meaning.where is None or meaning.where.which != "both":
        yield meaning
        return
    first_deg = _first_meridian_deg(state, meaning, _eye_of(state, meaning))
    first = _named(state, first_deg)
    yield meaning.model_copy(update={"where": first, "all_round": True})
    across = _named(state, across_deg(first_deg))
    lens = meaning.lens if late and meaning.lens is not None and not meaning.lens.on_top else None
    yield meaning.model_copy(update={"where": across, "lens": lens, "all_round": True})


def _named(state: ExamState, meridian_deg: int) -> say.Where:
    """A meridian of power as bare directions name it."""
    if state.naming == "streak":
        return say.Where(names="streak", angle=int(meridian_to_streak_deg(meridian_deg)))
    return say.Where(names="meridian", angle=meridian_deg)


def _eye_of(state: ExamState, meaning: say.Reading) -> say.OneEye | None:
    return meaning.eye if meaning.eye in ("right", "left") else state.eye


def _first_meridian_deg(state: ExamState, meaning: say.Reading, eye: say.OneEye | None) -> int:
    """The meridian across the cylinder's axis, where it has its power; else the one in hand; else the horizontal."""
    lens = meaning.lens
    if lens is not None and lens.cylinder is not None and lens.cylinder.axis_deg in range(1, 181):
        return across_deg(lens.cylinder.axis_deg or 180)
    here = None if eye is None else state.eyes[eye]
    if here is not None and lens is None and here.lenses.axis_deg is not None:
        return across_deg(here.lenses.axis_deg)
    return 180 if here is None or here.meridian_deg is None else here.meridian_deg
