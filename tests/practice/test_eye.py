"""The simulated eye: seeded, unsettled as much as it says, and bad values refused."""

import statistics

import pytest

from voicelog.errors import VoicelogError
from voicelog.optics import PowerVector, SpheroCylinder
from voicelog.optics.reflex_speed import PLANE_SOURCE_D
from voicelog.practice.eye import EyeModel, SimulatedEye, parse_refraction, random_refraction
from voicelog.practice.reflex import Retinoscope

SCOPE = Retinoscope(0.5)
NONE = PowerVector(0.0, 0.0, 0.0)
MYOPE = SpheroCylinder(-1.0)  # 1.00 D from neutral at 50 cm


def errors_d(model: EyeModel, seed: int, count: int) -> list[float]:
    """How far from neutral each look was, from the speed that was seen."""
    eye = SimulatedEye(model, seed)
    seen = [eye.look(NONE, 90.0, SCOPE) for _ in range(count)]
    return [
        (SCOPE.vergence_d - PLANE_SOURCE_D) / each.speed * (-1.0 if each.motion == "against" else 1.0)
        for each in seen
    ]


def test_the_same_seed_gives_the_same_looks_and_another_gives_others() -> None:
    model = EyeModel(MYOPE, tremor_d=0.2, noise_d=0.1)

    assert errors_d(model, 1, 20) == errors_d(model, 1, 20)
    assert errors_d(model, 1, 20) != errors_d(model, 2, 20)


def test_a_steady_eye_answers_the_same_every_time() -> None:
    assert errors_d(EyeModel(MYOPE), 1, 5) == pytest.approx([1.0] * 5)


def test_tremor_has_the_deviation_that_is_stated_and_wanders_slowly() -> None:
    """4000 looks: the standard deviation of a first-order autoregression is known to some 3 per cent from so many."""
    errors = errors_d(EyeModel(MYOPE, tremor_d=0.2), 3, 4000)

    assert statistics.fmean(errors) == pytest.approx(1.0, abs=0.03)
    assert statistics.stdev(errors) == pytest.approx(0.2, rel=0.1)
    assert statistics.correlation(errors[1:], errors[:-1]) == pytest.approx(0.7, abs=0.05)


def test_noise_is_new_at_every_look() -> None:
    errors = errors_d(EyeModel(MYOPE, noise_d=0.1), 3, 4000)

    assert statistics.stdev(errors) == pytest.approx(0.1, rel=0.05)
    assert abs(statistics.correlation(errors[1:], errors[:-1])) < 0.05


def test_noise_turns_motions_over_near_neutral_only() -> None:
    def motions(refraction_d: float) -> set[str]:
        eye = SimulatedEye(EyeModel(SpheroCylinder(refraction_d), noise_d=0.2), 5)
        return {eye.look(NONE, 90.0, SCOPE).motion for _ in range(200)}

    assert motions(-2.1) == {"with", "against", "neutral"}
    assert motions(0.0) == {"with"}


def test_the_band_is_seen_with_the_noise_that_is_stated() -> None:
    eye = SimulatedEye(EyeModel(SpheroCylinder(0.0), angle_noise_deg=3.0), 5)
    bands = [eye.look(NONE, 90.0, SCOPE).band_deg or 0.0 for _ in range(2000)]

    assert statistics.stdev(bands) == pytest.approx(3.0, rel=0.1)


def test_dull_and_scissors_eyes_look_it() -> None:
    looks = {
        look: SimulatedEye(EyeModel(SpheroCylinder(-1.8), look=look), 1).look(NONE, 90.0, SCOPE)
        for look in ("plain", "dull", "scissors")
    }

    assert looks["dull"].brightness < 0.4 < looks["plain"].brightness
    assert looks["plain"].second_mm is None
    assert looks["scissors"].second_mm is not None


def test_random_eyes_are_seeded_and_spread() -> None:
    eyes = [random_refraction(seed) for seed in range(200)]

    assert eyes == [random_refraction(seed) for seed in range(200)]
    assert 5 <= sum(eye.axis_deg is None for eye in eyes) <= 60
    assert {eye.sphere_d > 0 for eye in eyes} == {True, False}
    assert all(eye.cylinder_d <= 0 for eye in eyes)


@pytest.mark.parametrize(
    ("text", "sphere", "cylinder", "axis"),
    [
        ("+1.25 -1.75 x 90", 1.25, -1.75, 90.0),
        ("-2.00", -2.0, 0.0, None),
        ("-2 DS", -2.0, 0.0, None),
        ("plano -0.50 x 180", 0.0, -0.5, 180.0),
        ("PL -0.50X180", 0.0, -0.5, 180.0),
        ("-1.00/-0.50 axis 0", -1.0, -0.5, 180.0),
        ("-2.50 +1.50 x 90", -1.0, -1.5, 180.0),
        ("1.5", 1.5, 0.0, None),
    ],
)
def test_refractions_as_they_are_written(
    text: str, sphere: float, cylinder: float, axis: float | None
) -> None:
    found = parse_refraction(text)

    assert (found.sphere_d, found.cylinder_d, found.axis_deg) == (sphere, cylinder, axis)


@pytest.mark.parametrize(
    "text", ["", "right", "+1.25 -1.75", "+1 -1 x 181", "+50", "+1 -1 x 90 x 3", "--1", "+1 -1 x ninety", "x"]
)
def test_what_is_no_refraction_is_refused_in_one_line(text: str) -> None:
    with pytest.raises(VoicelogError) as caught:
        parse_refraction(text)

    assert len(str(caught.value).splitlines()) == 1
    assert repr(text) in str(caught.value)


@pytest.mark.parametrize(
    ("name", "value"),
    [("tremor_d", -0.1), ("tremor_d", 1.5), ("noise_d", float("nan")), ("angle_noise_deg", 90.0)],
)
def test_unsettledness_has_limits(name: str, value: float) -> None:
    with pytest.raises(VoicelogError, match=name):
        EyeModel(MYOPE, **{name: value})  # type: ignore[arg-type]
