"""Near and dynamic retinoscopy: which readings count and what they make; typed; static readings stay as they are."""

import pytest

from tests.exam.typing import Naming, exam, net, typed
from voicelog.exam.entries import CylinderLens, DarkEntry, EstimateEntry, NottEntry, TrialLenses
from voicelog.exam.near import NearFindings
from voicelog.exam.pass_state import Writing
from voicelog.exam.state import ExamState, EyeName
from voicelog.exam.summary import summary
from voicelog.optics import DistanceError, Form
from voicelog.phrases.meanings import Age


def whole(sphere: float, cylinder: CylinderLens | None = None, age: Age = "adult") -> DarkEntry:
    return DarkEntry(eye="right", age=age, lenses=TrialLenses(sphere_d=sphere, cylinder=cylinder))


def along(meridian: int, sphere: float, age: Age = "infant") -> DarkEntry:
    return DarkEntry(eye="right", age=age, meridian_deg=meridian, lenses=TrialLenses(sphere_d=sphere))


def near(*readings: DarkEntry, form: Form = "minus") -> NearFindings:
    return NearFindings(tuple((str(i), each) for i, each in enumerate(readings)), writing=Writing(form=form))


def result(*readings: DarkEntry, form: Form = "minus") -> str:
    found = near(*readings, form=form).dark
    assert found is not None
    return str(found.net) if found.net else "; ".join(each.code for each in found.problems)


def test_a_whole_lens_less_the_adjustment() -> None:
    """The worked example of the laboratory sheet that tests/published names; then the same at other ages."""
    half = CylinderLens(power_d=-0.5, axis_deg=80)

    assert result(whole(2.25, half)) == "+1.00 -0.50 x 080"
    assert result(whole(2.25, half, "child")) == "+1.25 -0.50 x 080"
    assert result(whole(2.25, half, "infant")) == "+1.50 -0.50 x 080"
    assert result(whole(2.25, half), form="plus") == "+0.50 +0.50 x 170"


def test_two_meridians_make_a_refraction() -> None:
    """Infant: 0.75 off both meridians; power +3.25 along 90 and +1.25 along 180 is +3.25 -2.00 x 90."""
    assert result(along(90, 4.0)) == "meridian_missing"
    assert result(along(90, 4.0), along(180, 2.0)) == "+3.25 -2.00 x 090"


def test_a_whole_lens_replaces_and_a_meridian_after_it_begins_anew() -> None:
    assert result(along(90, 4.0), along(180, 2.0), whole(1.25)) == "plano"
    assert result(whole(9.0), along(90, 4.0), along(180, 2.0)) == "+3.25 -2.00 x 090"
    assert result(whole(9.0), along(90, 4.0)) == "meridian_missing"


def test_two_ages_are_not_put_together() -> None:
    found = near(along(90, 4.0), along(180, 2.0, "child")).dark

    assert found is not None
    assert found.net is None
    assert found.exact is None
    assert found.problems[0].text.startswith("near retinoscopy in the dark was said for infant and child")


def test_the_last_neutral_of_a_meridian_stands_in_the_dark_too() -> None:
    """By the same rule as for static readings: +3.00 along 90 in place of +4.00, less 0.75."""
    assert result(along(90, 4.0), along(180, 2.0), along(90, 3.0)) == "+2.25 -1.00 x 090"


def test_dynamic_findings_say_the_response_where_the_target_is_known() -> None:
    by_nott = NottEntry(eye="right", target_cm=40, neutral_cm=50)

    assert by_nott.lag_d == pytest.approx(0.5)
    assert by_nott.response.response_d == pytest.approx(2.0)
    assert EstimateEntry(eye="right", power_d=0.5).lag_d == 0.5
    with pytest.raises(DistanceError):
        _ = NottEntry(eye="right", target_cm=0.4, neutral_cm=0.5).lag_d


def test_an_eye_without_readings_has_no_result() -> None:
    assert NearFindings().dark is None


STATIC = """right eye
working distance sixty seven
streak vertical neutral at plus three
streak horizontal neutral at plus two
"""
ALL_OF_IT = """dark adult sphere plus two twenty five cylinder minus a half axis eighty
estimate plus a half
dynamic target forty neutral fifty
"""


def dark(state: ExamState, eye: EyeName = "right") -> str:
    found = state.near[eye].dark
    assert found is not None
    return str(found.net) if found.net else "; ".join(each.code for each in found.problems)


def lags(state: ExamState, eye: EyeName = "right") -> list[tuple[str, float]]:
    return [(each.kind, pytest.approx(each.lag_d)) for _, each in state.near[eye].accommodation]  # type: ignore[misc]


def test_near_findings_are_apart_from_the_static_readings() -> None:
    """The dark example is the laboratory sheet's (tests/published); no working distance is taken off any of them."""
    before, after = exam(STATIC), exam(STATIC + ALL_OF_IT)

    assert net(after, "right") == net(before, "right")
    assert after.eyes["right"].readings == before.eyes["right"].readings
    assert dark(after) == "+1.00 -0.50 x 080"
    assert lags(after) == [("estimate", 0.5), ("nott", 0.5)]
    near = summary(after)["eyes"]["right"]["near"]
    assert (near["dark"]["age"], near["dark"]["adjustment"]) == ("adult", 1.25)
    assert near["dark"]["net"] == {
        "sphere": 1.0,
        "cylinder": -0.5,
        "axis": 80,
        "spherical_equivalent": 0.75,
    }
    assert [each["method"] for each in near["accommodation"]] == ["estimate", "nott"]
    assert summary(after)["eyes"]["left"]["near"] == {"dark": None, "accommodation": []}


@pytest.mark.parametrize(("naming", "axis"), [("streak", 180), ("meridian", 90)])
def test_bare_places_in_the_dark_go_by_the_naming_habit(naming: Naming, axis: int) -> None:
    """Child, 1.00 off. Streak horizontal examines 90: +3.00 along 90, +1.00 along 180 is +3.00 -2.00 x 90.

    By the other habit horizontal is the meridian itself, and the axis is 180.
    """
    state = exam(
        "right eye\ndark child horizontal neutral at plus four\ndark child vertical neutral at plus two",
        naming,
    )

    assert dark(state) == f"+3.00 -2.00 x {270 - axis:03d}"


def test_eyes_are_those_in_hand_or_named() -> None:
    state = exam(
        "right eye\nestimate left eye plus one\nestimate plus a half\ndynamic left target 33 neutral 40\n"
        "left eye\ndark infant sphere plus three"
    )

    assert lags(state, "right") == [("estimate", 0.5)]
    assert lags(state, "left") == [("estimate", 1.0), ("nott", 1 / 0.33 - 1 / 0.4)]
    assert state.near["right"].dark is None
    assert dark(state, "left") == "+2.25 DS"


@pytest.mark.parametrize(
    ("line", "answer"),
    [
        ("dark infant sphere three", "3.00: plus or minus?"),
        ("dark infant cylinder minus one", "which axis has the cylinder?"),
        ("estimate fifty", "0.50: plus or minus?"),
        ("estimate plus nine", "a lag of 9.00 D is unusual: is it right?"),
        (
            "dynamic target four neutral fifty",
            "a target distance of 4 cm is not within 10 to 100 cm: say it again",
        ),
        (
            "dynamic target 40 neutral 250",
            "a neutral distance of 250 cm is not within 10 to 200 cm: say it again",
        ),
        ("dynamic target 15 neutral 60", "a lag of 5.00 D is unusual: is it right?"),
        ("dynamic target 60 neutral 15", "a lead of 5.00 D is unusual: is it right?"),
        ("dark sphere plus three", "sphere"),
    ],
)
def test_what_is_not_clear_or_not_likely_is_asked(line: str, answer: str) -> None:
    answers, state = typed(f"right eye\n{line}")

    assert answers[-1].outcome == "asked"
    assert answer in answers[-1].reply
    assert state.near["right"].dark is None
    assert state.near["right"].accommodation == ()


@pytest.mark.parametrize(
    "line", ["dark child sphere plus two", "estimate plus one", "dynamic target 40 neutral 50"]
)
def test_without_an_eye_it_is_asked_for(line: str) -> None:
    answers, state = typed(f"{line}\nleft eye")

    assert answers[0].reply == "which eye?"
    near = state.near["left"]
    assert near.dark is not None or near.accommodation


def test_an_unusual_value_is_entered_after_yes() -> None:
    _, state = typed("right eye\nestimate plus nine\nyes")

    assert lags(state) == [("estimate", 9.0)]


@pytest.mark.parametrize(
    ("correction", "expected"),
    [
        ("correction dark adult sphere plus three", "+1.75 -0.50 x 080"),
        ("correction dark child sphere plus two twenty five", "+1.25 -0.50 x 080"),
        ("correction axis ninety", "+1.00 -0.50 x 090"),
        ("not minus a half but minus one", "+1.00 -1.00 x 080"),
        ("wrong eye", "left"),
        ("scratch that", "none"),
    ],
)
def test_corrections_of_readings_in_the_dark(correction: str, expected: str) -> None:
    """A part that is left unsaid stays; the age decides the adjustment anew."""
    state = exam(
        "left eye\nother eye\ndark adult sphere plus two twenty five cylinder minus a half axis eighty\n"
        + correction
    )

    if expected == "left":
        assert state.near["right"].dark is None
        assert dark(state, "left") == "+1.00 -0.50 x 080"
    elif expected == "none":
        assert state.near["right"].dark is None
    else:
        assert dark(state) == expected


def test_the_meridian_that_is_named_is_corrected() -> None:
    both = (
        "right eye\ndark infant horizontal neutral at plus four\ndark infant vertical neutral at plus two\n"
    )

    state = exam(both + "correction dark infant horizontal neutral at plus three")

    assert dark(state) == "+2.25 -1.00 x 090"


@pytest.mark.parametrize(
    ("lines", "expected"),
    [
        ("estimate plus one\ncorrection plus a half", [("estimate", 0.5)]),
        ("estimate plus one\nnot plus one but plus two", [("estimate", 2.0)]),
        ("estimate plus one\ncorrection estimate minus a quarter", [("estimate", -0.25)]),
        ("dynamic target 40 neutral 60\ncorrection dynamic target 40 neutral 50", [("nott", 0.5)]),
        ("estimate plus one\nestimate plus two\nscratch that", [("estimate", 1.0)]),
    ],
)
def test_corrections_of_accommodation(lines: str, expected: list[tuple[str, float]]) -> None:
    assert lags(exam(f"right eye\n{lines}")) == expected


def test_what_is_told_of_them() -> None:
    answers, _ = typed(
        STATIC + ALL_OF_IT + "read back\nread findings\nleft eye\n"
        "dark infant horizontal neutral at plus four\nwhat is missing"
    )

    assert answers[-5].reply == "right eye: accommodation (Nott) lag 0.50 D (target 40 cm, neutral 50 cm)"
    assert answers[-4].reply == (
        "right eye: near retinoscopy in the dark adult, sphere +2.25, cylinder -0.50 axis 080; "
        "accommodation (monocular estimate) lag 0.50 D; accommodation (Nott) lag 0.50 D (target 40 cm, neutral 50 cm); "
        "right eye: in the dark +1.00 -0.50 x 080 (adult, less 1.25 D)"
    )
    assert "left eye: in the dark: the 180 meridian is missing; only 90 was measured" in answers[-1].reply
