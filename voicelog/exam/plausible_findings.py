"""Findings that cannot be entered as they were said: implausible, or not complete. A doubt only makes the log ask."""

from collections.abc import Iterator

from voicelog.exam import wording
from voicelog.exam.acuity import is_on_a_chart, logmar_of, written_acuity
from voicelog.exam.events import Question
from voicelog.exam.ledger import CannotCorrectError
from voicelog.exam.state import ExamState
from voicelog.optics import from_written_power_d
from voicelog.phrases import meanings as say

# The finest and the coarsest line of the table of charts (acuity_lines.toml: 20/10; 20/2000, which is counting fingers
# at two feet, Holladay 2004), and half a line more.
FINEST_LOGMAR, COARSEST_LOGMAR = -0.35, 2.05
# Adults 45 to 80 mm, children from 40 mm (Dodgson, Proc. SPIE 2004;5291:36-46); infants less, near less.
LEAST_PUPILS_MM, GREATEST_PUPILS_MM = 35.0, 85.0
GREATEST_HALVES_APART_MM = 6.0  # common practice, no source
LEAST_PUPIL_MM, GREATEST_PUPIL_MM = 1.0, 10.0  # common practice, no source
LEAST_VERTEX_MM, GREATEST_VERTEX_MM = 5.0, 25.0  # common practice, no source
GREATEST_ADDITION_D = 4.0  # common practice, no source; what low vision needs beyond it is confirmed
GREATEST_STRENGTH_PERCENT = 10.0  # the strongest in use is phenylephrine 10 % (from memory)
_STEP_D = 0.125


def finding_doubt(state: ExamState, meaning: say.Meaning) -> Question | None:
    """The first thing to ask about a finding before it can be entered; None when there is nothing."""
    match _as_entered(state, meaning):
        case say.Acuity(value=value):
            return _acuity(value, meaning)
        case say.PupilsDistance() as said:
            return _pupils_distance(said)
        case say.Pupils(size_mm=size) if size is not None:
            return _within(size, LEAST_PUPIL_MM, GREATEST_PUPIL_MM, "a pupil")
        case say.Vertex(vertex_mm=vertex):
            return _within(vertex, LEAST_VERTEX_MM, GREATEST_VERTEX_MM, "a vertex distance")
        case say.Addition(power=power):
            return _addition(power, meaning)
        case say.Spectacles() as worn:
            return _spectacles(worn, meaning)
        case say.Drops() as drops:
            return _drops(drops)
        case say.Pass(number=number):
            return _pass(state, number)
        case _:
            return None


def _as_entered(state: ExamState, meaning: say.Meaning) -> say.Meaning | None:
    """The entry as it would stand in the log; of a correction, the entry that it makes."""
    if not isinstance(meaning, say.Correction | say.NotBut):
        return meaning
    number = len(state.events)
    try:
        lines = state.ledger.with_entry(number, meaning).lines
    except CannotCorrectError:
        return None  # the exchange says what was not found
    return next((line.meaning for line in lines if line.corrected_by == number), None)


def _acuity(value: say.AcuityValue, meaning: say.Meaning) -> Question | None:
    if value.category is not None:
        return None
    logmar = logmar_of(value)
    if logmar is None or not FINEST_LOGMAR <= logmar <= COARSEST_LOGMAR:
        return _refused(f"an acuity of {written_acuity(value)} is beyond every chart: say it again")
    if value.snellen is not None and not is_on_a_chart(value.snellen):
        return _confirm(f"{written_acuity(value)} is on no usual chart: is it right?", meaning)
    return None


def _pupils_distance(said: say.PupilsDistance) -> Question | None:
    if said.both_mm is not None:
        return _within(said.both_mm, LEAST_PUPILS_MM, GREATEST_PUPILS_MM, "a pupils distance")
    halves = [half for half in (said.right_mm, said.left_mm) if half is not None]
    for half in halves:
        question = _within(half, LEAST_PUPILS_MM / 2, GREATEST_PUPILS_MM / 2, "half a pupils distance")
        if question is not None:
            return question
    if len(halves) == 2 and abs(halves[0] - halves[1]) > GREATEST_HALVES_APART_MM:
        return _refused(f"halves of {halves[0]:g} and {halves[1]:g} mm are far apart: say them again")
    return None


def _addition(power: say.Power, meaning: say.Meaning) -> Question | None:
    value = power.dioptres
    if value is None:
        return None  # its sign or size is asked for first
    if value <= 0:
        return _refused(f"a near addition is plus, not {wording.power(power)}: say it again")
    if value > GREATEST_ADDITION_D:
        return _confirm(f"an addition of {wording.power(power)} is unusual: is it right?", meaning)
    return None


def _spectacles(said: say.Spectacles, meaning: say.Meaning) -> Question | None:
    """A lensometer may show any hundredth, but an odd one is likelier misheard."""
    if said.addition is not None:
        question = _addition(said.addition, meaning)
        if question is not None:
            return question
    for power in _powers(said):
        if from_written_power_d(power) % _STEP_D:
            return _confirm(f"{power:+.2f} D is no quarter or eighth: is it right?", meaning)
    return None


def _powers(said: say.Spectacles) -> Iterator[float]:
    parts = (said.lens.sphere, said.lens.cylinder.power if said.lens.cylinder else None, said.addition)
    return (part.dioptres for part in parts if part is not None and part.dioptres is not None)


def _drops(said: say.Drops) -> Question | None:
    strength = said.strength_percent
    if strength is not None and not 0 < strength <= GREATEST_STRENGTH_PERCENT:
        return _refused(f"drops of {strength:g} % are not known: say the entry again")
    if said.clock is not None and not (0 <= said.clock.hour <= 23 and 0 <= said.clock.minute <= 59):
        return _refused(f"{said.clock.hour}:{said.clock.minute:02d} is no time of day: say the entry again")
    if said.eye is None:
        return _refused("drops in which eye? Say the entry again with right eye, left eye or both eyes")
    return None


def _pass(state: ExamState, number: int | None) -> Question | None:
    if state.eye is None:
        return None  # the eye is asked for
    here = state.eyes[state.eye]
    if not here.readings or here.pass_opened:
        return _refused(
            f"pass {here.pass_number + here.pass_opened} of the {state.eye} eye has no reading yet"
        )
    if number is not None and number != here.pass_number + 1:
        return _refused(f"the next pass of the {state.eye} eye is pass {here.pass_number + 1}: say it again")
    return None


def _within(value: float, least: float, greatest: float, what: str) -> Question | None:
    if least <= value <= greatest:
        return None
    return _refused(f"{what} of {value:g} mm is not within {least:g} to {greatest:g} mm: say it again")


def _refused(text: str) -> Question:
    return Question(missing="repeat", text=text)


def _confirm(text: str, meaning: say.Meaning) -> Question:
    return Question(missing="confirm", text=text, candidate=meaning)
