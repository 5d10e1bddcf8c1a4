"""The light in the pupil against rays, against figures of the literature, and against the summing up of `reflex`."""

import dataclasses

import numpy as np
import pytest

from tests.practice.tracing import Setup, to_retina
from voicelog.optics import PowerVector, SpheroCylinder
from voicelog.practice import light as light_module
from voicelog.practice.light import SPHERICAL_D_PER_MM2, Aberration, Numbers, PupilLight, light
from voicelog.practice.reflex import PEEPHOLE_RADIUS_MM, STREAK_MRAD, Retinoscope, reflex

SCOPE = Retinoscope(0.67)
PUPIL_MM = 5.0
LINE = np.linspace(-2.4, 2.4, 97)


def eye(error_d: float, scope: Retinoscope = SCOPE, flaw: Aberration | None = None) -> PupilLight:
    """An eye so far from neutral, streak upright."""
    needed = PowerVector(error_d - scope.vergence_d, 0.0, 0.0)
    return light(needed, 90.0, scope, pupil_mm=PUPIL_MM, aberration=flaw)


def across(shown: PupilLight, beam_mm: float) -> Numbers:
    """Brightness along the horizontal through the middle of the pupil, without the veil."""
    return shown.seen(beam_mm, shown.field_mrad(LINE, np.zeros_like(LINE))) - shown.veil


def lit_mm(shown: PupilLight) -> float:
    """Width of the lit line across, as it is seen in the pupil, at half its brightness."""
    profile = np.array(shown.profile)
    above = profile > profile.max() / 2.0
    return float(above.sum() * shown.step_mrad / np.hypot(shown.along_d, shown.torsion_d))


@pytest.mark.parametrize(
    ("refraction", "streak_deg", "beam_mm"),
    [
        (SpheroCylinder(-3.5), 90.0, 2.0),
        (SpheroCylinder(1.0, -2.0, 30.0), 60.0, -3.0),
        (SpheroCylinder(-0.5, -1.0, 120.0), 10.0, 1.0),
    ],
)
def test_the_brightness_is_that_of_counted_rays(
    refraction: SpheroCylinder, streak_deg: float, beam_mm: float
) -> None:
    """150 000 rays from the source land on the retina; rays back from the peephole look at how many lie there.

    The rays know nothing of vergences (tests/practice/tracing.py). 3 % of the brightest is what counting leaves to chance in a cell.
    """
    needed = refraction.vector
    setup = Setup(needed.matrix, SCOPE.distance_m, 1.0 / SCOPE.source_d, streak_deg)
    chance = np.random.default_rng(5)

    def disc(count: int, radius_m: float) -> Numbers:
        radius, angle = radius_m * np.sqrt(chance.random(count)), chance.uniform(0.0, 2.0 * np.pi, count)
        return np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)

    count = 150_000
    middle = beam_mm * 1e-3 * (1.0 - setup.source_m / setup.scope_m)
    offset = middle + chance.uniform(-0.5, 0.5, count) * STREAK_MRAD * 1e-3 * setup.source_m
    landed = to_retina(
        setup, offset[:, None] * setup.along, setup.source_m, disc(count, PUPIL_MM / 2.0 * 1e-3)
    )
    lit = landed @ setup.along
    cells = np.linspace(lit.min() - 1e-6, lit.max() + 1e-6, 161)
    density, _ = np.histogram(lit, cells)
    places = (cells[1:] + cells[:-1]) / 2.0

    at = disc(30, PUPIL_MM / 2.0 * 1e-3)
    counted = []
    for point in at:
        holes = disc(2000, PEEPHOLE_RADIUS_MM * 1e-3)
        seen = to_retina(setup, holes, setup.scope_m, np.broadcast_to(point, holes.shape)) @ setup.along
        counted.append(np.interp(seen, places, density, left=0.0, right=0.0).mean())
    shown = light(needed, streak_deg, SCOPE, pupil_mm=PUPIL_MM)
    field = shown.field_mrad(at[:, 0] * 1e3, at[:, 1] * 1e3)
    found = shown.seen(beam_mm, field) - shown.veil
    scale = np.max(found) / np.max(counted)

    assert np.max(found) > 0.1
    assert found == pytest.approx(np.array(counted) * scale, abs=0.03 * float(np.max(found)))


@pytest.mark.parametrize("error_d", [-6.0, -3.0, 2.5, 5.0])
def test_a_source_beside_the_peephole_lights_the_crescent_of_photorefraction(
    error_d: float, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A retinoscope is an eccentric source that moves (Roorda and Bobier, Vision Science and its Applications 1995,
    SaD3, abstract), so a point source e mm from the middle of the aperture lights a crescent of the height
    pupil - e / (distance x error) (Bobier and Braddick, Am J Optom Physiol Opt 1985; Howland 1985: from memory)."""
    monkeypatch.setattr(light_module, "STREAK_MRAD", 0.02)
    monkeypatch.setattr(light_module, "PEEPHOLE_RADIUS_MM", 0.01)
    eccentricity_mm = 4.0
    beside = Retinoscope(0.67, sleeve_d=1.0 / 0.67 - 1e-3)  # the source all but in the plane of the peephole
    shown = eye(error_d, beside)
    beam_mm = -eccentricity_mm * beside.vergence_d / shown.travel_d
    seen = across(shown, beam_mm)
    crescent_mm = PUPIL_MM - eccentricity_mm / (0.67 * abs(error_d))
    lit = LINE[seen > 0.02 * seen.max()]

    edge = PUPIL_MM / 2.0 - crescent_mm
    assert (lit.min() if error_d < 0 else -lit.max()) == pytest.approx(edge, abs=0.06)
    assert (lit.max() if error_d < 0 else -lit.min()) == pytest.approx(2.4, abs=0.06)


def test_light_that_meets_on_the_retina_makes_the_narrowest_band() -> None:
    """Wirtschafter and Schwartz, Duane's Clinical Ophthalmology, volume 1, chapter 37, figure 12: sleeve up, the rays meet
    33 cm before the retinoscope; at 28 cm from the eye the filament is sharp on the retina: +20 D of hyperopia."""
    scope = Retinoscope(0.28, sleeve_d=1.0 / (0.28 - 0.33))
    powers = np.arange(10.0, 30.0, 0.5)
    widths = [lit_mm(light(PowerVector(power, 0.0, 0.0), 90.0, scope, pupil_mm=PUPIL_MM)) for power in powers]

    assert powers[int(np.argmin(widths))] == pytest.approx(20.0)


def test_a_beam_that_meets_in_the_pupil_is_neutral_whatever_the_eye() -> None:
    """Pascal, Arch Ophthalmol 1948;39:550: the "incident neutral" point."""
    scope = Retinoscope(0.67, sleeve_d=1e4)

    for error_d in (-8.0, -2.0, 0.5, 3.0, 8.0):
        assert reflex(PowerVector(error_d - scope.vergence_d, 0.0, 0.0), 90.0, scope).motion == "neutral"


def test_in_quarter_steps_one_lens_is_neutral_and_the_next_ones_move() -> None:
    """Pascal, Br J Ophthalmol, Neutralization in dynamic retinoscopy, page 589: where +2.00 neutralises a with motion
    in static retinoscopy, +2.25 makes it distinctly against; there is but one neutral lens. At 67 cm."""
    counts = []
    for refraction_d in np.arange(-1.0, 1.0, 0.01):
        motions = [
            reflex(PowerVector(float(refraction_d) - lens, 0.0, 0.0), 90.0, SCOPE).motion
            for lens in np.arange(-1.0, 4.0, 0.25)
        ]
        counts.append(motions.count("neutral"))
        assert motions == sorted(motions, key=("with", "neutral", "against").index)

    assert max(counts) == 1
    assert np.mean(counts) > 0.95


def test_an_against_band_leaves_the_pupil_on_the_other_side() -> None:
    """From -0.5 to -2 D the band is gone at the end of the sweep; at -4 D the half of the pupil is dark that the streak
    went to. Numbers of brightness, half of what is there when the streak is in the middle."""
    for error_d in (-0.5, -1.0, -2.0):
        shown = eye(error_d)
        middle = across(shown, 0.0).mean()
        assert across(shown, 12.0).mean() < 0.15 * middle
        half_way = across(shown, 4.0)
        assert half_way[LINE < -1.0].mean() > 1.5 * half_way[LINE > 1.0].mean() or error_d == -0.5
    far = across(eye(-4.0), 12.0)
    assert far[LINE > 0.5].mean() < 0.1 * far[LINE < -0.5].mean()


def test_far_from_neutral_the_band_is_duller_and_narrower_than_at_neutral() -> None:
    """AAO Basic and Clinical Science Course, Clinical Optics: slow, dull and narrow far off, fast, bright and wide near;
    the width tells with "with" motion only, and "against" is dimmer."""
    for error_d in (2.0, 3.0, 4.0, 6.0, 8.0):
        with_, against = eye(error_d), eye(-error_d)
        assert max(with_.profile) < 1.0
        assert max(against.profile) < max(with_.profile)
        assert lit_mm(with_) < 0.85 * PUPIL_MM
        assert lit_mm(against) > lit_mm(with_)
    assert max(eye(3.0).profile) < 0.6
    assert lit_mm(eye(3.0)) < 0.7 * PUPIL_MM


@pytest.mark.parametrize("error_d", [-6.0, -2.0, -0.5, 0.5, 1.0, 2.0, 4.0, 8.0])
@pytest.mark.parametrize("torsion", [0.0, 0.75])
def test_reflex_sums_the_light_up(error_d: float, torsion: float) -> None:
    """Its two widths are those of the line: where it ends (two cells of 124 are its grain), and where it is half as
    bright (the root of fourth powers is within a seventh)."""
    needed = PowerVector(error_d - SCOPE.vergence_d, 0.0, torsion)
    shown = light(needed, 90.0, SCOPE, pupil_mm=PUPIL_MM)
    summed = reflex(needed, 90.0, SCOPE, pupil_mm=PUPIL_MM)
    profile = np.array(shown.profile)
    ends = (profile > 1e-6 * profile.max()).sum() * shown.step_mrad / np.hypot(error_d, torsion)

    assert summed.width_mm == pytest.approx(ends, rel=0.04)
    assert summed.bright_mm == pytest.approx(lit_mm(shown), rel=1 / 7)


def test_in_a_wide_pupil_the_margin_goes_against_when_the_middle_is_neutral() -> None:
    """Spherical aberration: the margin is the more myopic, so with a wide pupil the middle 3 to 4 mm are gone by."""
    shown = dataclasses.replace(eye(0.0, flaw=Aberration(SPHERICAL_D_PER_MM2)), pupil_mm=7.0)
    x = np.array([-3.4, -1.0, 1.0, 3.4])
    field = shown.field_mrad(x, np.zeros(4))

    assert abs(field[2] - field[1]) / 2.0 < 0.125
    assert field[3] - field[2] < -1.0
    assert field[1] - field[0] < -1.0


def test_coma_shows_two_bands_near_neutral() -> None:
    needed = PowerVector(-0.2 - SCOPE.vergence_d, 0.0, 0.0)
    shown = light(needed, 90.0, SCOPE, pupil_mm=PUPIL_MM, aberration=Aberration(0.0, 0.4))
    second = reflex(needed, 90.0, SCOPE, pupil_mm=PUPIL_MM, coma_d_per_mm=0.4).second_mm

    assert second is not None
    assert shown.field_mrad(np.array([second]), np.zeros(1)) == pytest.approx(0.0, abs=1e-9)


def test_dull_media_take_light_and_add_a_veil() -> None:
    needed = PowerVector(1.0, 0.0, 0.0)
    clear, dull = (light(needed, 90.0, SCOPE, clarity=clarity) for clarity in (1.0, 0.3))

    assert np.array(dull.profile) == pytest.approx(0.3 * np.array(clear.profile))
    assert dull.veil > clear.veil
