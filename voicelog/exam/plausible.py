"""What cannot be entered as it was said: something missing, or a value that no trial case and no eye has.

A doubt makes the log ask; it never changes a value.
"""

from voicelog.exam import wording
from voicelog.exam.completing import cylinders, places, powers
from voicelog.exam.events import Question
from voicelog.exam.plausible_findings import finding_doubt
from voicelog.exam.plausible_near import near_doubt
from voicelog.exam.state import ExamState
from voicelog.optics import from_written_power_d
from voicelog.phrases import meanings as say

# Usual trial cases hold spheres to 20 D and cylinders to 6 D (trial-set descriptions; from memory);
# two lenses together reach these.
LARGEST_POWER_D = 30.0
LARGEST_CYLINDER_D = 12.0
# Radical retinoscopy goes down to 10 cm; nobody holds a retinoscope beyond arm's length (common practice, no source).
LEAST_DISTANCE_CM, GREATEST_DISTANCE_CM = 10.0, 100.0
_STEP_D = 0.125


def doubts(state: ExamState, meaning: say.Meaning) -> Question | None:
    """The first thing to ask about a meaning before it can be entered; None when there is nothing."""
    checks = (
        _signs,
        _sizes,
        _axes,
        _places,
        _distance,
        _eye,
        finding_doubt,
        near_doubt,
        _in_hand,
        _relative,
        _no_lens,
    )
    for check in checks:
        question = check(state, meaning)
        if question is not None:
            return question
    return None


def _signs(_: ExamState, meaning: say.Meaning) -> Question | None:
    for power in powers(meaning):
        if power.size_d is None:
            return Question(
                missing="size", text="the power was not clear: say it again, with its sign", candidate=meaning
            )
        if power.dioptres is None:
            return Question(missing="sign", text=f"{power.size_d:.2f}: plus or minus?", candidate=meaning)
    return None


def _sizes(_: ExamState, meaning: say.Meaning) -> Question | None:
    for power in powers(meaning):
        value = power.dioptres or 0.0
        if abs(value) > LARGEST_POWER_D:
            return _refused(f"{value:+.2f} D is beyond {LARGEST_POWER_D:g} D: say the power again")
        if from_written_power_d(value) % _STEP_D and not _on_a_lensometer(meaning):
            return _refused(f"{value:+.2f} D is no step of a lens set: say the power again")
    for cylinder in cylinders(meaning):
        if abs(cylinder.power.dioptres or 0.0) > LARGEST_CYLINDER_D:
            return _refused(
                f"a cylinder of {wording.power(cylinder.power)} D is beyond {LARGEST_CYLINDER_D:g} D: say it again"
            )
    return None


def _on_a_lensometer(meaning: say.Meaning) -> bool:
    """Spectacles may measure what no trial case holds; `finding_doubt` has it confirmed."""
    entry = meaning.entry if isinstance(meaning, say.Correction) else meaning
    return isinstance(entry, say.Spectacles)


def _axes(_: ExamState, meaning: say.Meaning) -> Question | None:
    axes = [each.axis_deg for each in cylinders(meaning) if each.power.dioptres]
    if isinstance(meaning, say.LooseAxis):
        axes.append(meaning.axis_deg)
    if isinstance(meaning, say.Correction) and isinstance(meaning.entry, say.LooseAxis):
        axes.append(meaning.entry.axis_deg)
    for axis in axes:
        if axis is None:
            if isinstance(meaning, say.Correction):
                continue  # a cylinder put right without an axis keeps the one it had
            return Question(missing="axis", text="which axis has the cylinder?", candidate=meaning)
        if not 1 <= axis <= 180:
            return Question(
                missing="axis", text=f"axis {axis} is not within 1 to 180: which axis?", candidate=meaning
            )
    return None


def _places(_: ExamState, meaning: say.Meaning) -> Question | None:
    for place in places(meaning):
        if not 1 <= place.angle_deg <= 180:
            return _refused(f"{place.angle_deg} is not within 1 to 180 degrees: say the entry again")
    return None


def _distance(_: ExamState, meaning: say.Meaning) -> Question | None:
    entry = meaning.entry if isinstance(meaning, say.Correction) else meaning
    if isinstance(entry, say.WorkingDistance):
        distance = entry.distance_cm
        if not LEAST_DISTANCE_CM <= distance <= GREATEST_DISTANCE_CM:
            allowed = f"{LEAST_DISTANCE_CM:g} to {GREATEST_DISTANCE_CM:g} cm"
            return _refused(
                f"a working distance of {distance:g} cm is not within {allowed}: say it again in centimetres"
            )
    if isinstance(entry, say.WorkingLens) and entry.power is not None:
        power = entry.power.dioptres or 0.0
        if not 100 / GREATEST_DISTANCE_CM <= power <= 100 / LEAST_DISTANCE_CM:
            return _refused(f"{wording.power(entry.power)} is no working-distance lens: say it again")
    return None


def _eye(state: ExamState, meaning: say.Meaning) -> Question | None:
    if state.eye is not None:
        return None
    if isinstance(meaning, say.Reading | say.Lenses | say.Reflex | say.Pass) or _lacks_eye(meaning):
        return Question(missing="eye", text="which eye?", candidate=meaning)
    if isinstance(meaning, say.Eye) and meaning.eye == "other":
        return Question(missing="eye", text="no eye was named yet: right or left?")
    return None


def _lacks_eye(meaning: say.Meaning) -> bool:
    """Whether a finding belongs to the eye in hand, for it names none."""
    if isinstance(meaning, say.Pupils):
        return meaning.eye is None and meaning.size_mm is not None
    named_or_in_hand = say.Acuity | say.Spectacles | say.Refined | say.Estimate | say.Dynamic
    return isinstance(meaning, say.Dark) or (isinstance(meaning, named_or_in_hand) and meaning.eye is None)


def _in_hand(state: ExamState, meaning: say.Meaning) -> Question | None:
    if not isinstance(meaning, say.Reading) or meaning.where is not None or state.eye is None:
        return None
    if state.eyes[state.eye].meridian_deg is not None:
        return None
    return _refused("which meridian? Say the entry again with it")


def _relative(state: ExamState, meaning: say.Meaning) -> Question | None:
    lens = meaning.lens if isinstance(meaning, say.Reading | say.Lenses) else None
    if lens is None or not lens.on_top or state.eye is None:
        return None
    in_place = state.eyes[state.eye].lenses
    if in_place.empty:
        return _refused("on top of what? No lens is before the eye: say the lenses in full")
    if (
        lens.cylinder is not None
        and in_place.cylinder_d is not None
        and lens.cylinder.axis_deg != in_place.axis_deg
    ):
        return _refused("two cylinders at different axes cannot be kept as one: say the lenses in full")
    return None


def _no_lens(state: ExamState, meaning: say.Meaning) -> Question | None:
    """A lost word would make "neutral" with no lens of a reading that had one."""
    if (
        not isinstance(meaning, say.Reading)
        or meaning.motion != "neutral"
        or meaning.lens
        or state.eye is None
    ):
        return None
    here = state.eyes[state.eye]
    if not here.lenses.empty:
        return None
    return Question(missing="confirm", text="neutral with no lens before the eye?", candidate=meaning)


def _refused(text: str) -> Question:
    return Question(missing="repeat", text=text)
