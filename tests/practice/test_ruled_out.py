"""What each look of a lesson ruled out: the truth stays, a useless look tells nothing, the best one tells all there is."""

import pytest

from tests.some import some
from voicelog.optics import SpheroCylinder
from voicelog.practice.exercise import Exercise
from voicelog.practice.eye import EyeModel, Glimpse, SimulatedEye
from voicelog.practice.reflex import reflex
from voicelog.practice.ruled_out import Map, glance_of, ruled_out

OBLIQUE = Exercise(EyeModel(SpheroCylinder(1.25, -1.75, 35)), 1)
LOOKS = [(0.0, 90.0), (0.0, 35.0), (2.0, 35.0), (1.0, 35.0), (2.75, 125.0), (3.5, 125.0)]


def mapped(exercise: Exercise, looks: list[tuple[float, float]]) -> Map:
    """The map after looks through spheres, dioptres, along streaks, degrees."""
    eye = SimulatedEye(exercise.model, exercise.seed)
    glimpses = [
        Glimpse(lens, streak, eye.look(lens.vector, streak, exercise.scope))
        for lens, streak in ((SpheroCylinder(power), streak) for power, streak in looks)
    ]
    return ruled_out(exercise, glimpses)


@pytest.mark.parametrize(
    "refraction",
    [SpheroCylinder(1.25, -1.75, 35), SpheroCylinder(-3.0), SpheroCylinder(0.5, -3.0, 180)],
    ids=str,
)
def test_the_truth_is_in_what_is_left_at_the_end(refraction: SpheroCylinder) -> None:
    exercise = Exercise(EyeModel(refraction), 1)
    found = mapped(exercise, LOOKS)

    assert found.truth_d == pytest.approx([refraction.power_along_d(each) for each in found.meridians_deg])
    for truth, (low, high) in zip(found.truth_d, found.looks[-1].left_d, strict=True):
        assert low <= truth <= high


def test_what_is_left_gets_less() -> None:
    looks = mapped(OBLIQUE, LOOKS).looks
    widths = [[high - low for low, high in look.left_d] for look in (looks[0], looks[-1])]

    assert all(last < 0.2 * first for first, last in zip(*widths, strict=True))


def test_a_look_that_was_clear_before_tells_next_to_nothing() -> None:
    """Against at +2.00 was seen: against at +6.00 is no news."""
    looks = mapped(OBLIQUE, [(2.0, 35.0), (6.0, 35.0)]).looks

    assert looks[0].bits > 1.0
    assert looks[1].bits < 0.1 * looks[1].best_bits


def test_the_share_is_of_what_the_best_looks_would_have_told() -> None:
    good = mapped(OBLIQUE, [(0.0, 35.0), (2.0, 35.0)])
    wasted = mapped(OBLIQUE, [(0.0, 35.0), (2.0, 35.0), (6.0, 35.0), (8.0, 35.0)])

    assert 0.0 < some(wasted.share) < some(good.share) <= 1.0
    assert all(look.bits <= look.best_bits for look in (*good.looks, *wasted.looks))


def test_the_same_look_twice_counts_once() -> None:
    assert len(mapped(OBLIQUE, [(1.0, 90.0), (1.0, 90.0), (1.25, 90.0)]).looks) == 2


def test_no_look_makes_no_share() -> None:
    assert mapped(OBLIQUE, []).share is None


def test_a_reflex_that_stands_still_says_no_side() -> None:
    scope = OBLIQUE.scope
    still = reflex(SpheroCylinder(-16.0).vector, 90.0, scope)

    assert still.motion == "still"
    assert glance_of(SpheroCylinder(0.0), 90.0, still, concave=False) is None


def test_a_band_counts_only_where_no_cylinder_turns_it() -> None:
    seen = reflex(SpheroCylinder(1.0, -2.0, 30).vector, 90.0, OBLIQUE.scope)
    bands = [
        some(glance_of(lens, 90.0, seen, concave=False)).band_deg
        for lens in (SpheroCylinder(1.0), SpheroCylinder(0.0, -1.0, 180), SpheroCylinder(0.0, -1.0, 150))
    ]

    assert bands[0] == bands[1] == pytest.approx(seen.band_deg)
    assert bands[2] is None
