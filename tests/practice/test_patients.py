"""What the patient does to the reflex: age, a child who looks at the light, and an examiner who sits to the side."""

import pytest

from voicelog.errors import VoicelogError
from voicelog.optics import PowerVector, SpheroCylinder
from voicelog.practice.accommodation import LEVELS, near_pupil_mm, near_response_d
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import EyeModel, SimulatedEye
from voicelog.practice.judging import judge
from voicelog.practice.lesson import Lesson
from voicelog.practice.off_axis import off_axis_change
from voicelog.practice.pupil import pupil_mm_at
from voicelog.practice.reflex import Retinoscope
from voicelog.settings import Settings

SCOPE = Retinoscope(0.5)
NONE = SpheroCylinder(0.0)


def test_the_pupil_narrows_with_age_as_the_unified_formula_has_it() -> None:
    """Watson and Yellott 2012, by the formula as an open program has it (pupil of Stanley and Davies at 3700 cd/m2 deg2,
    then the slope of age): worked by hand. (3700/846)^0.41 = 1.8309; 7.75 - 5.75 x 1.8309/3.8309 = 5.0018 mm at 28.58
    years; slope 0.02132 - 0.009562 x 5.0018 = -0.02651 mm a year."""
    assert pupil_mm_at(28.58) == pytest.approx(5.002, abs=2e-3)
    assert pupil_mm_at(68.58) == pytest.approx(5.002 - 40 * 0.02651, abs=2e-3)
    for age in (2.0, 95.0, float("nan")):
        with pytest.raises(VoicelogError, match="years"):
            pupil_mm_at(age)


def test_a_child_at_the_light_falls_short_by_the_published_lag() -> None:
    """Between 0.33 D (Tassinari 2002) and 0.415 D (Cacho et al. as discussed in 2000), at 40 cm."""
    left_d = 3.0 - near_response_d(3.0)

    assert 0.33 <= left_d <= 0.415
    assert near_response_d(0.2) == near_response_d(-2.0) == 0.0
    assert near_pupil_mm(5.0, 2.0) < 5.0
    assert near_pupil_mm(5.0, 9.0) >= 3.5


def test_a_childs_reflex_goes_towards_neutral_and_its_words_say_so() -> None:
    child, adult = (
        SimulatedEye(EyeModel(SpheroCylinder(1.0), child=child), 1).glimpse(
            NONE, PowerVector(0.0, 0.0, 0.0), 90.0, SCOPE
        )
        for child in (True, False)
    )

    assert child.reflex == adult.reflex
    assert len(child.lights) == LEVELS
    assert [light.along_d for light in (child.lights[0], child.lights[-1])] == pytest.approx([3.0, 0.37])
    assert adult.near is None
    assert len(adult.lights) == 1


def test_a_child_that_is_neutral_has_nothing_to_do() -> None:
    eye = SimulatedEye(EyeModel(SpheroCylinder(-2.0), child=True), 1)

    assert eye.glimpse(NONE, PowerVector(0.0, 0.0, 0.0), 90.0, SCOPE).near is None


def test_from_the_side_an_eye_measures_as_it_was_measured() -> None:
    """Am J Ophthalmol 2004;137:1101-4: from 0 to 20 degrees the spherical equivalent went from -0.02 to -0.98 and the
    sphere from -0.40 to -1.80; at 15 degrees the equivalent was -0.64. Pacific University 1985: up to 4 degrees small."""
    change = off_axis_change(20.0)
    cylinder_d = -2.0 * change.astigmatism_d

    assert change.m_d == pytest.approx(-0.98 + 0.02)
    assert cylinder_d == pytest.approx(2.0 * ((-0.98 + 1.80) - (-0.02 + 0.40)) * -1.0)
    assert off_axis_change(15.0).m_d == pytest.approx(-0.64 + 0.02, abs=0.1)
    assert abs(off_axis_change(4.0).m_d) < 0.06
    assert off_axis_change(-20.0) == change
    with pytest.raises(VoicelogError, match="25"):
        Exercise(EyeModel(NONE), 1, off_axis_deg=30.0)


def test_readings_from_the_side_are_right_and_the_result_is_not() -> None:
    """An eye of +1.00 from 20 degrees: by hand, along 180 1.00 - 0.96 - 0.44 + 2.00 = +1.60, along 90 +2.48."""
    lesson = Lesson(
        Exercise(EyeModel(SpheroCylinder(1.0)), 1, distance_cm=50.0, off_axis_deg=20.0), Settings()
    )
    for line in (
        "right eye",
        "working distance 50",
        "streak 90 neutral at +1.50",
        "streak 180 neutral at +2.50",
    ):
        answer = lesson.type_line(line)
    mistake = judge(lesson.exercise, lesson.state).mistake

    assert answer.glimpse is not None
    assert answer.glimpse.reflex.motion == "neutral"
    assert mistake is not None
    assert mistake.code == "off_axis"
    assert "20 degrees to the side" in mistake.text
