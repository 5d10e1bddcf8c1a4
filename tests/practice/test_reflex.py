"""The reflex against rays traced one by one, and against what teaching says of it."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from tests.practice.tracing import Setup, band_middle_line, band_width_mm
from voicelog.optics import DistanceError, PowerVector, SpheroCylinder, axis_difference_deg
from voicelog.optics.reflex_speed import FASTEST_SEEN
from voicelog.practice.reflex import (
    PEEPHOLE_RADIUS_MM,
    PUPIL_MM,
    STREAK_MRAD,
    Retinoscope,
    error_along_d,
    reflex,
)

SCOPE = Retinoscope(2 / 3)
repeatable = settings(derandomize=True, deadline=None, max_examples=100)
EYES = st.builds(PowerVector, st.floats(-8.0, 8.0), st.floats(-2.0, 2.0), st.floats(-2.0, 2.0))
STREAKS = st.floats(1.0, 180.0)
SCOPES = st.builds(Retinoscope, st.floats(0.25, 1.0), st.booleans())


def sphere(power_d: float) -> PowerVector:
    """An eye that needs a sphere."""
    return PowerVector(power_d, 0.0, 0.0)


def setup(needed: PowerVector, streak_deg: float, scope: Retinoscope) -> Setup:
    """The same eye and retinoscope for the ray tracing."""
    return Setup(needed.matrix, scope.distance_m, 1.0 / scope.source_d, streak_deg)


def is_traceable(needed: PowerVector, scope: Retinoscope) -> bool:
    """With one meridian all but neutral a retinal point is seen at infinity along it, and no rays can be solved for."""
    return abs(float(np.linalg.det(needed.matrix + scope.vergence_d * np.eye(2)))) > 0.01


@repeatable
@given(EYES, STREAKS, SCOPES)
def test_way_and_speed_agree_with_traced_rays(needed: PowerVector, streak: float, scope: Retinoscope) -> None:
    """Where the band crosses the sweep, over where the beam is."""
    assume(abs(error_along_d(needed, streak, scope)) > 0.05)
    assume(is_traceable(needed, scope))
    traced = setup(needed, streak, scope)
    beam_m = 1e-3
    first, second = band_middle_line(traced, beam_m)
    line = second - first
    crossing = np.linalg.solve(np.stack([traced.along, -line], axis=1), first)[0]
    ratio = crossing / beam_m
    seen = reflex(needed, streak, scope)

    assert seen.speed == pytest.approx(abs(ratio), rel=1e-6)
    if seen.motion in ("with", "against"):
        assert (seen.motion == "with") == (ratio > 0)


@repeatable
@given(EYES, STREAKS, SCOPES)
def test_the_band_lies_where_traced_rays_put_it(
    needed: PowerVector, streak: float, scope: Retinoscope
) -> None:
    seen = reflex(needed, streak, scope)
    assume(seen.band_deg is not None and is_traceable(needed, scope))
    assert seen.band_deg is not None
    first, second = band_middle_line(setup(needed, streak, scope), 1e-3)
    traced = math.degrees(math.atan2(second[1] - first[1], second[0] - first[0]))

    assert axis_difference_deg(seen.band_deg, traced) == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize("power_d", [-6.0, -3.0, -0.75, 0.0, 1.0, 4.0])
@pytest.mark.parametrize(("cylinder_d", "axis"), [(0.0, None), (-2.0, 180.0), (-1.5, 35.0)])
def test_the_width_agrees_with_rays_by_brute_force(
    power_d: float, cylinder_d: float, axis: float | None
) -> None:
    """Rims of source, pupil and peephole, traced; their grid of 0.02 mm is 1 % of the narrowest band here."""
    needed = SpheroCylinder(power_d, cylinder_d, axis).vector
    traced = band_width_mm(
        setup(needed, 90.0, SCOPE),
        source_rad=STREAK_MRAD * 1e-3,
        peephole_m=PEEPHOLE_RADIUS_MM * 1e-3,
        pupil_m=PUPIL_MM * 1e-3,
    )

    assert reflex(needed, 90.0, SCOPE).width_mm == pytest.approx(traced, rel=0.01)


@pytest.mark.parametrize(
    ("refraction_d", "motion"),
    [(3.0, "with"), (0.0, "with"), (-1.0, "with"), (-1.5, "neutral"), (-2.0, "against"), (-6.0, "against")],
)
def test_the_table_of_motions(refraction_d: float, motion: str) -> None:
    """Hyperope, emmetrope and a myope of less than 1/d: with; of 1/d: neutral; of more: against (2/3 m, plane mirror).

    Source: AAO Basic and Clinical Science Course, Clinical Optics, retinoscopy chapter.
    """
    assert reflex(sphere(refraction_d), 90.0, SCOPE).motion == motion


@repeatable
@given(EYES, STREAKS, st.floats(0.25, 1.0))
def test_a_concave_mirror_turns_every_motion_round(
    needed: PowerVector, streak: float, distance: float
) -> None:
    """Source: retinoscopy teaching, "Clinical refraction" chapter: the convergent sleeve reverses all motions."""
    plane, concave = (reflex(needed, streak, Retinoscope(distance, mirror)) for mirror in (False, True))
    ways = {plane.motion, concave.motion}

    assert not ({plane.motion, concave.motion} <= {"with", "against"} and len(ways) == 1)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_nearing_neutral_the_reflex_is_faster_wider_and_brighter(side: float) -> None:
    """AAO, as above. From 2 D off on: nearer than that a with band narrows first (its line is in focus at 1.00 D)."""
    errors_d = [12.0, 8.0, 5.0, 3.0, 2.0]
    far_to_near = [reflex(sphere(side * error - 1.5), 90.0, SCOPE) for error in errors_d]
    neutral = reflex(sphere(-1.5), 90.0, SCOPE)

    assert [each.speed for each in far_to_near] == sorted(each.speed for each in far_to_near)
    assert [each.brightness for each in far_to_near] == sorted(each.brightness for each in far_to_near)
    assert all(each.width_mm < neutral.width_mm for each in far_to_near)
    assert all(each.brightness <= neutral.brightness for each in far_to_near)
    assert neutral.fills_pupil
    assert math.isinf(neutral.speed)


def test_narrowness_tells_with_motion_only_and_against_is_dimmer() -> None:
    """AAO, as above: the width rule holds for with motion; against reflexes are usually dimmer."""
    for error in (1.0, 2.0, 4.0, 8.0):
        with_, against = (reflex(sphere(side * error - 1.5), 90.0, SCOPE) for side in (1.0, -1.0))
        assert not with_.fills_pupil
        assert against.fills_pupil
        assert against.brightness < with_.brightness


def test_far_from_neutral_the_reflex_seems_to_stand_still() -> None:
    high = reflex(sphere(14.0), 90.0, SCOPE)

    assert high.motion == "still"
    assert high.band_deg is None
    assert high.brightness < 0.3


def test_in_a_principal_meridian_there_is_no_skew_and_elsewhere_there_is() -> None:
    needed = SpheroCylinder(2.0, -1.5, 30.0).vector

    assert reflex(needed, 30.0, SCOPE).band_deg == pytest.approx(30.0)
    assert reflex(needed, 120.0, SCOPE).band_deg == pytest.approx(120.0)
    for streak in (10.0, 50.0, 100.0, 140.0):
        band = reflex(needed, streak, SCOPE).band_deg
        assert band is not None
        assert abs(axis_difference_deg(band, streak)) > 1.0


def test_with_one_meridian_neutral_the_band_lies_along_the_axis_whatever_the_streak() -> None:
    """The cylinder that is left is seen as a band along its axis: how an axis is found."""
    needed = SpheroCylinder(-1.5, 2.0, 35.0).vector

    for streak in (20.0, 35.0, 60.0, 90.0):
        assert reflex(needed, streak, SCOPE).band_deg == pytest.approx(35.0)


def test_the_neutral_zone_is_that_of_the_fastest_motion_seen() -> None:
    """An eighth of a dioptre either way at 67 cm (its source: tests/practice/test_light.py), more when nearer."""
    for distance_m, either_way_d in ((0.67, 0.124), (0.5, 0.1875)):
        scope = Retinoscope(distance_m)
        edge = (scope.vergence_d - scope.source_d) / FASTEST_SEEN

        assert edge == pytest.approx(either_way_d, abs=5e-4)
        assert reflex(sphere(-scope.vergence_d + 0.99 * edge), 90.0, scope).motion == "neutral"
        assert reflex(sphere(-scope.vergence_d + 1.01 * edge), 90.0, scope).motion == "with"
        assert reflex(sphere(-scope.vergence_d - 1.01 * edge), 90.0, scope).motion == "against"


def test_scissors_have_a_second_band_near_neutral_only() -> None:
    """The retina at e y + c y^2/2 is seen at y = 0 and again at y = -2e/c."""
    near = reflex(sphere(-1.3), 90.0, SCOPE, coma_d_per_mm=0.4)
    far = reflex(sphere(1.0), 90.0, SCOPE, coma_d_per_mm=0.4)

    assert near.second_mm is not None
    assert near.second_mm == pytest.approx(-1.0)
    assert 0.2 * near.second_mm + 0.4 * near.second_mm**2 / 2 == pytest.approx(0.0)
    assert far.second_mm is None


def test_dull_media_take_light_and_nothing_else() -> None:
    clear, dull = (reflex(sphere(1.0), 90.0, SCOPE, clarity=clarity) for clarity in (1.0, 0.3))

    assert dull.brightness == pytest.approx(0.3 * clear.brightness)
    assert (dull.motion, dull.speed, dull.width_mm) == (clear.motion, clear.speed, clear.width_mm)


def test_an_impossible_distance_is_refused() -> None:
    with pytest.raises(DistanceError):
        Retinoscope(0.0)
