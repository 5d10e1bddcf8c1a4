"""The most telling look: lenses of the set alone, an expected gain worked out afresh, and eyes found by following it.

A few eyes are followed by default; `pytest -m sweep -s` measures slips over 300 eyes and prints what they cost.
"""

import math
from collections.abc import Sequence

import numpy as np
import pytest

from tests.optics.belief_exams import Examiner
from tests.optics.belief_lenses import NOISE_D, Course, advised, examiner_of
from tests.optics.belief_slips import FIRST_SLIP, LAST_SLIP, likeliest_slip, likely_slip
from voicelog.optics import LensSet, LensSetError, Look, SpheroCylinder, axis_difference_deg, lenses_for_power
from voicelog.optics.belief import LAPSE, Enough, InPlace, LookModel, NextLook, advise, believe
from voicelog.optics.belief.next_look import expected_gains

HALVES = LensSet(spheres_d=(0.5, 1.0, 1.5, 2.0, 4.0), cylinders_d=(0.5, 1.0), most_lenses=2)
SETS = (LensSet(), HALVES, LensSet(spheres_d=(1.0, 3.0), cylinders_d=(0.5,), most_lenses=1))
NOTHING = InPlace()
LOOKS = [Look(180, 1.0, "with"), Look(180, 3.0, "against"), Look(90, 0.0, "against"), Look(90, -2.0, "with")]


def told(looks: Sequence[Look], in_place: InPlace = NOTHING, **options: object) -> NextLook:
    """The advice after these looks, which is a look."""
    advice = advise(believe(looks), in_place, **options)  # type: ignore[arg-type]
    assert isinstance(advice, NextLook)
    return advice


@pytest.mark.parametrize("technique", ["spheres", "sphere-cylinder", "cylinders"])
@pytest.mark.parametrize("lens_set", SETS, ids=["usual", "halves", "few"])
@pytest.mark.parametrize("count", range(5))
def test_no_lens_is_named_that_the_set_lacks(count: int, lens_set: LensSet, technique: str) -> None:
    advice = told(LOOKS[:count], lens_set=lens_set, technique=technique)

    lenses_for_power(advice.lens.sphere_d, lens_set)  # raises when the set cannot make it
    lenses_for_power(advice.lens.cylinder_d, lens_set, cylinder=True)


def test_a_set_without_a_telling_lens_is_an_error() -> None:
    far = [Look(180, 7.0, "with"), Look(180, 8.0, "against"), Look(90, 7.0, "with"), Look(90, 8.0, "against")]

    with pytest.raises(LensSetError, match="no lens of the set"):
        advise(
            believe(far, model=LookModel(lapse=0.0)),
            lens_set=LensSet(spheres_d=(1.0,), cylinders_d=(0.5,), most_lenses=1),
        )


def test_nothing_known_begins_in_the_middle() -> None:
    assert abs(told([]).lens.sphere_d) <= 0.25


def test_a_known_meridian_is_left_for_the_other() -> None:
    known = [Look(180, 1.0, "neutral"), Look(180, 0.75, "with"), Look(180, 1.25, "against")]

    assert told(known, InPlace(SpheroCylinder(1.25), 90.0)).streak_deg == 180.0


def test_a_turn_of_the_streak_must_be_worth_it() -> None:
    """Two meridians alike: the streak stays where it is."""
    looks = [
        Look(180, 0.0, "with"),
        Look(180, 2.0, "against"),
        Look(90, 0.0, "with"),
        Look(90, 2.0, "against"),
    ]

    for streak in (90.0, 180.0):
        assert told(looks, InPlace(SpheroCylinder(2.0), streak)).streak_deg == streak


def test_the_sphere_stays_for_the_cylinder() -> None:
    known = [Look(180, power, "neutral") for power in (1.0, 1.0, 1.0)] + [
        Look(90, -1.0, "with"),
        Look(90, 1.0, "against"),
    ]
    advice = told(known, InPlace(SpheroCylinder(1.0), 180.0), technique="sphere-cylinder")

    assert advice.lens.sphere_d == 1.0
    assert advice.lens.axis_deg == advice.streak_deg == 180.0
    assert -2.0 < advice.lens.cylinder_d < 0.0


def test_a_streak_not_along_the_band_needs_a_third_meridian() -> None:
    known = [Look(meridian, 1.0, "neutral") for meridian in (180.0, 90.0) for _ in range(6)]
    unsure = advise(believe(known, along_band=False), InPlace(SpheroCylinder(1.0), 180.0))

    assert isinstance(unsure, NextLook)
    assert min(abs(axis_difference_deg(unsure.streak_deg, each)) for each in (90.0, 180.0)) >= 30.0


def test_it_says_when_it_is_enough() -> None:
    sure = [Look(meridian, 1.0, "neutral") for meridian in (180.0, 90.0) for _ in range(9)]
    advice = advise(believe(sure))

    assert isinstance(advice, Enough)
    assert advice.chance >= 0.95


def test_the_gain_is_the_mutual_information() -> None:
    """Of two eyes alike likely, 1 D either side of the lens: with and against tell them apart but for the errors.

    Worked out afresh as the relative entropy of the joint distribution, with SciPy-free normal integrals.
    """
    model = LookModel(lapse=0.0)
    sd = model.errors.neutrality_sd_d

    def below(value: float) -> float:
        return 0.5 * math.erfc(-value / math.sqrt(2.0))

    joint = []
    for away in (1.0, -1.0):
        plus, minus = below((away - 0.125) / sd), below((-away - 0.125) / sd)
        joint.append([plus / 2.0, minus / 2.0, (1.0 - plus - minus) / 2.0])
    table = np.array(joint)
    independent = table.sum(axis=1, keepdims=True) * table.sum(axis=0, keepdims=True)
    expected = float((table * np.log(table / independent)).sum())

    gains = expected_gains(np.array([-1.0, 1.0]), np.array([0.5, 0.5]), [0.0, 8.0], model)

    assert gains.tolist() == pytest.approx([expected, 0.0], abs=2e-4)


def ends(courses: Sequence[Course]) -> float:
    """Mean number of looks after which the advice said enough; all there were where it did not."""
    return float(np.mean([course.enough or max(course.estimates) for course in courses]))


def test_eyes_are_found_by_following_it() -> None:
    """Six eyes with speed words: five at least within a quarter in both meridians, and within 36 looks."""
    courses = [advised(examiner_of(seed, speed_words=True)) for seed in range(6)]

    assert sum(course.found(100) for course in courses) >= 5
    assert sum(course.enough is not None and course.enough <= 36 for course in courses) >= 5


def gross_slips(seeds: range, speed_words: bool) -> tuple[float, float, list[Course]]:
    """Share of slips by 2 D that are named, the same of those that say what is not true, and the courses.

    What was said of a lens 2 D off may be true of the eye all the same, or within half a dioptre of it.
    """
    courses = [
        advised(
            examiner_of(
                seed, slip_at=FIRST_SLIP + seed % (LAST_SLIP + 1 - FIRST_SLIP), speed_words=speed_words
            ),
            most=60,
        )
        for seed in seeds
    ]
    named = [set(course.slips) <= set(course.named) for course in courses]
    untrue = [found for found, course in zip(named, courses, strict=True) if course.untrue]
    return float(np.mean(named)), float(np.mean(untrue)), courses


def test_a_gross_slip_is_found_in_a_sample() -> None:
    named, _, courses = gross_slips(range(4), speed_words=True)

    assert named >= 0.75
    assert sum(course.found(100) for course in courses) >= 3


@pytest.mark.sweep
def test_what_the_best_rules_could_name() -> None:
    """Without speed words: what rules name that know the noise and what slips are like, and the belief of the same exams."""
    _, _, courses = gross_slips(range(50_000, 50_150), speed_words=False)
    slipped = [course for course in courses if course.slips]
    told = [likeliest_slip(course.looks, NOISE_D) in course.slips for course in slipped]
    untold = [likely_slip(course.looks, NOISE_D, LAPSE) in course.slips for course in slipped]
    named = [set(course.slips) <= set(course.named) for course in slipped]
    false = [len(set(course.named) - set(course.slips)) for course in slipped]
    print(
        f"of {len(slipped)} gross slips a rule names {100 * np.mean(told):.1f} % that is told of each, {100 * np.mean(untold):.1f} % "
        f"that is not; the belief {100 * np.mean(named):.1f} %, with {np.mean(false):.3f} others an eye; "
        f"{100 * np.mean([course.untrue for course in slipped]):.1f} % are not true by half a dioptre"
    )

    assert np.mean(named) >= np.mean(untold) - 0.06


@pytest.mark.sweep
@pytest.mark.parametrize("speed_words", [False, True])
def test_what_slips_cost(speed_words: bool) -> None:
    seeds = range(50_000, 50_150)
    plain = ends([advised(examiner_of(seed, speed_words=speed_words), most=60) for seed in seeds])
    lapses = ends(
        [advised(examiner_of(seed, speed_words=speed_words, lapse=0.03), most=60) for seed in seeds]
    )
    named, untrue_named, courses = gross_slips(seeds, speed_words)
    print(
        f"speed words {speed_words}: {plain:.1f} looks, with 3 % lapses {lapses:.1f}, with one gross slip "
        f"{ends(courses):.1f}, named {100 * named:.0f} % "
        f"({100 * untrue_named:.0f} % of those that are not true by half a dioptre), found {100 * np.mean([c.found(100) for c in courses]):.0f} %"
    )

    assert lapses <= 1.2 * plain
    assert ends(courses) <= 1.2 * plain
    assert named >= 0.8
    assert untrue_named >= 0.9


def test_the_examiner_of_a_seed_is_always_the_same() -> None:
    one, other = examiner_of(3), examiner_of(3)

    assert isinstance(one, Examiner)
    assert one.eye == other.eye
