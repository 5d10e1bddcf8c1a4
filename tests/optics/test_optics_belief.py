"""The belief against the plain result, against an independent sampler, and against simulated eyes.

A small share of the eyes runs by default; `pytest -m sweep -s` measures 2,000 of each technique and prints the table.
"""

import math
from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.optics.belief_exams import TECHNIQUES, Examiner, examine, held_eye, random_eye
from tests.optics.belief_sampler import Seen, sample
from tests.some import some
from voicelog.optics import (
    PUBLISHED_NEUTRALITY_SD_D,
    ErrorModel,
    ErrorModelError,
    Look,
    PowerVector,
    SpheroCylinder,
    Uncertainty,
    in_region,
    solve_looks,
)
from voicelog.optics.belief import (
    LAPSE,
    NOISE_SPREAD,
    WIDE_PRIOR,
    Belief,
    Glance,
    LookModel,
    age_prior,
    believe,
    earlier_prior,
    spectacles_prior,
)

ERRORS = ErrorModel(neutrality_sd_d=PUBLISHED_NEUTRALITY_SD_D, allowance_sd_d=0.045)
NEUTRAL_ONLY = {
    "pair": [(180, 4.25), (90, 0.25)],
    "oblique pair": [(170, 1.25), (80, -1.0)],
    "pair of a sphere": [(45, -3.5), (135, -3.5)],
    "pair of 4 D": [(15, 2.0), (105, -2.0)],
    "pair beside a right angle": [(90, 2.0), (175, 1.0)],
    "fan": [(180, 1.25), (60, 2.0), (120, -1.0)],
    "four": [(20, 2.25), (65, 1.25), (110, 1.75), (155, 2.75)],
}


def parts(vector: PowerVector | None) -> NDArray[np.float64]:
    vector = some(vector)
    return np.array([vector.m_d, vector.j0_d, vector.j45_d])


@pytest.mark.parametrize("lapse", [0.0, 0.01])
@pytest.mark.parametrize("readings", NEUTRAL_ONLY.values(), ids=NEUTRAL_ONLY)
def test_neutral_looks_alone_give_the_plain_result_and_its_region(
    readings: list[tuple[float, float]], lapse: float
) -> None:
    looks = [Look(meridian, power, "neutral") for meridian, power in readings]
    plain = solve_looks(looks, allowance_d=1.5, errors=ERRORS)
    belief = believe(looks, allowance_d=1.5, model=LookModel(ERRORS, lapse=lapse, noise_spread=0.0))

    assert parts(belief.estimate) == pytest.approx(parts(plain.vector), abs=0.02)
    for name in ("m_sd_d", "j0_sd_d", "j45_sd_d", "sphere_sd_d", "cylinder_sd_d"):
        assert getattr(belief.uncertainty, name) == pytest.approx(
            getattr(plain.uncertainty, name), rel=0.1
        ), name


def sds(readings: Sequence[tuple[float, float]]) -> tuple[Uncertainty, Uncertainty]:
    """Standard deviations of neutral looks: the plain result's, and the belief's with a noise that is not known."""
    looks = [Look(meridian, power, "neutral") for meridian, power in readings]
    belief = believe(looks, model=LookModel(ERRORS, lapse=0.0))
    return some(solve_looks(looks, errors=ERRORS).uncertainty), belief.uncertainty


@pytest.mark.parametrize("readings", ["pair", "pair of 4 D", "fan"])
def test_readings_that_cannot_disagree_have_the_plain_region_whatever_the_noise(readings: str) -> None:
    """Its mean square is the published one, and two or three readings tell nothing of it."""
    plain, belief = sds(NEUTRAL_ONLY[readings])

    assert belief.m_sd_d == pytest.approx(plain.m_sd_d, rel=0.1)
    assert belief.j0_sd_d == pytest.approx(plain.j0_sd_d, rel=0.1)


def test_the_region_grows_where_looks_scatter_and_shrinks_where_they_agree() -> None:
    """Four readings: 20 and 110 make the same mean as 65 and 155, or one of 0.9 D more."""
    plain, agreeing = sds(NEUTRAL_ONLY["four"])
    _, scattered = sds([(20, 2.7), (65, 0.8), (110, 2.2), (155, 2.3)])

    assert 0.8 * plain.m_sd_d < agreeing.m_sd_d < 0.95 * plain.m_sd_d
    assert scattered.m_sd_d > 1.1 * plain.m_sd_d


def test_the_region_of_neutral_looks_is_that_of_the_plain_result() -> None:
    """Of vectors drawn around the result, as many lie in one as in the other, and mostly the same ones.

    The noise is held as known, as the plain result holds it.
    """
    looks = [Look(meridian, power, "neutral") for meridian, power in NEUTRAL_ONLY["fan"]]
    plain = solve_looks(looks, errors=ERRORS)
    belief = believe(looks, model=LookModel(ERRORS, lapse=0.0, noise_spread=0.0))
    rng = np.random.default_rng(5)
    drawn = rng.multivariate_normal(
        parts(plain.vector), 2.0 * np.array(some(plain.uncertainty).covariance), 400
    )
    vectors = [PowerVector(*row) for row in drawn.tolist()]
    first = np.array([in_region(plain, vector, errors=ERRORS) for vector in vectors])
    second = np.array([belief.covers(vector) for vector in vectors])

    assert second.sum() == pytest.approx(first.sum(), rel=0.1)
    assert (first == second).mean() > 0.95


SAMPLED = {
    "three meridians, motions and speeds": (
        [
            (180.0, 0.0, "with", "slow"), (180.0, 3.0, "against", ""), (180.0, 2.25, "with", "fast"), (180.0, 2.5, "against", "fast"),
            (60.0, 1.0, "with", ""), (60.0, 2.0, "against", ""), (60.0, 1.5, "neutral", ""), (120.0, 0.0, "with", "fast"),
            (120.0, 0.5, "neutral", ""), (120.0, 1.0, "against", ""),
        ],
        (1.5, 0.8, 0.6), 0.0, 0.0,
    ),
    "slips and an unsure distance": (
        [
            (170.0, -1.0, "against", ""), (170.0, -2.0, "with", ""), (170.0, -1.5, "neutral", ""), (170.0, -1.25, "against", ""),
            (50.0, -3.0, "with", ""), (50.0, -2.0, "against", ""), (50.0, -2.5, "with", ""), (50.0, -2.25, "neutral", ""),
            (110.0, -2.0, "against", ""), (110.0, -3.0, "with", ""), (110.0, -2.5, "neutral", ""), (110.0, -2.5, "with", ""),
        ],
        (-2.0, 0.4, 0.0), 0.02, 0.1,
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", SAMPLED.values(), ids=SAMPLED)
def test_an_independent_sampler_agrees(
    case: tuple[Sequence[Seen], tuple[float, float, float], float, float],
) -> None:
    seen, start, lapse, allowance_sd = case
    errors = ErrorModel(neutrality_sd_d=0.26, allowance_sd_d=allowance_sd)
    glances = [
        Glance(Look(meridian, power, motion), speed or None) for meridian, power, motion, speed in seen
    ]
    belief = believe(glances, model=LookModel(errors, lapse=lapse, all_told=True))
    sampled = sample(seen, start, lapse=lapse, allowance_sd=allowance_sd)

    tenths = np.linspace(0.1, 0.9, 9)
    drawn = np.quantile(belief.draws, tenths, axis=1)
    assert drawn == pytest.approx(np.quantile(sampled.draws, tenths, axis=0), abs=0.02)
    # Neighbours in the list are of one chain: any of them, not every n-th.
    some_draws = np.random.default_rng(3).choice(sampled.draws, 1500, replace=False)
    inside = [belief.covers(PowerVector(*row)) for row in some_draws.tolist()]
    assert np.mean(inside) == pytest.approx(0.95, abs=0.02)


def coverage(technique: str, noise: float, count: int, spread: float = 0.0) -> tuple[float, float]:
    """Share of eyes whose 95 % region holds the truth, and looks an eye; noise in units of the stated.

    With a spread (standard deviation of the logarithm) every eye has an examiner of its own; `noise` is then the root mean
    square over them. Slips come as often as they are held to.
    """
    held = looks = 0
    for number in range(count):
        rng = np.random.default_rng([TECHNIQUES.index(technique), number, 91])
        own = math.exp(spread * np.random.default_rng([number, 92]).normal() - spread**2)
        examiner = Examiner(
            random_eye(rng),
            rng,
            noise_d=noise * own * PUBLISHED_NEUTRALITY_SD_D,
            allowance_sd_d=ERRORS.allowance_sd_d,
            lapse=LAPSE,
        )
        examine(examiner, technique)
        looks += len(examiner.seen)
        held += believe(examiner.seen, model=LookModel(ERRORS, all_told=True)).covers(examiner.eye.vector)
    return held / count, looks / count


def test_regions_hold_the_truth_in_a_sample() -> None:
    """16 eyes a technique; of 64 regions of 95 % fewer than 55 hold the truth once in 1,000 times."""
    held = sum(16 * coverage(technique, 1.0, 16)[0] for technique in TECHNIQUES)

    assert held >= 55


@pytest.mark.sweep
@pytest.mark.parametrize(
    ("noise", "spread", "least", "most"),
    [(1.0, NOISE_SPREAD, 0.94, 0.98), (1.0, 0.0, 0.94, 0.985), (1.5, 0.0, 0.89, 0.96)],
    ids=["examiners as published", "all as the published mean", "all 1.5 times as uneven"],
)
@pytest.mark.parametrize("technique", TECHNIQUES)
def test_regions_hold_the_truth(
    technique: str, noise: float, spread: float, least: float, most: float
) -> None:
    """With 1.5 times the noise a normal region of 3 dimensions would hold 67.5 %."""
    share, looks = coverage(technique, noise, 2000, spread)
    print(f"{technique}, noise {noise:g}, spread {spread:g}: {100 * share:.1f} %, {looks:.1f} looks an eye")

    assert least <= share <= most


@pytest.mark.sweep
@pytest.mark.parametrize(
    ("noise", "spread", "known", "least", "most"),
    [
        (1.0, NOISE_SPREAD, False, 0.94, 0.965),
        (1.0, 0.0, True, 0.94, 0.965),
        # Not as held: how far the regions bear it.
        (1.5, 0.0, False, 0.85, 0.95),
    ],
    ids=["examiners as unlike as held", "noise known", "all 1.5 times as uneven"],
)
@pytest.mark.parametrize("technique", TECHNIQUES)
def test_regions_hold_eyes_as_they_are_held(
    technique: str, noise: float, spread: float, known: bool, least: float, most: float
) -> None:
    """Where eye, noise and slips come as often as they are held to, a region of 95 % holds 95 %: sums and region are right."""
    count = 2000
    model = LookModel(ERRORS, all_told=True, noise_spread=0.0 if known else NOISE_SPREAD)
    held = 0
    for number in range(count):
        rng = np.random.default_rng([TECHNIQUES.index(technique), number, 94])
        own = math.exp(spread * np.random.default_rng([number, 95]).normal() - spread**2)
        examiner = Examiner(
            held_eye(rng, technique),
            rng,
            noise_d=noise * own * PUBLISHED_NEUTRALITY_SD_D,
            allowance_sd_d=ERRORS.allowance_sd_d,
            lapse=LAPSE,
        )
        examine(examiner, technique)
        held += believe(examiner.seen, model=model).covers(examiner.eye.vector)
    print(f"{technique}, eyes as held, noise {noise:g}, spread {spread:g}: {100 * held / count:.1f} %")

    assert least <= held / count <= most


def test_what_it_rests_on_is_named() -> None:
    looks = [Look(90, 1.0, "with"), Look(180, 2.0, "against")]

    assert believe(looks).rests_on == ("2 looks, streak along the band; known before: nothing")
    assert believe(looks[:1], along_band=False).rests_on == "1 look; known before: nothing"
    worn = spectacles_prior(SpheroCylinder(-2.0, -1.0, 90))
    assert believe(looks, prior=worn).rests_on.endswith("; known before: spectacles worn -2.00 -1.00 x 090")
    assert earlier_prior(SpheroCylinder(1.0)).name == "earlier exam +1.00 DS"
    assert age_prior(7).name == "eyes of the age of 7 years"
    assert age_prior(1.5, "18 months").name == "eyes of the age of 18 months"


def test_spectacles_that_are_anothers_do_not_hold_the_belief_back() -> None:
    looks = [Look(180, 0.0, "with"), Look(180, 2.0, "with"), Look(180, 4.0, "against")]
    looks += [
        Look(180, 3.0, "neutral"),
        Look(90, 2.5, "with"),
        Look(90, 3.5, "against"),
        Look(90, 3.0, "neutral"),
    ]
    known = believe(looks, prior=spectacles_prior(SpheroCylinder(-4.0)))

    assert parts(known.estimate) == pytest.approx(parts(believe(looks).estimate), abs=0.05)


def test_true_spectacles_narrow_the_region() -> None:
    looks = [Look(180, 0.0, "with"), Look(180, 4.0, "against")]
    near = spectacles_prior(SpheroCylinder(2.0))

    assert believe(looks, prior=near).uncertainty.m_sd_d < 0.5 * believe(looks).uncertainty.m_sd_d


def mirrored(belief: Belief) -> np.ndarray:
    return parts(belief.estimate) * -1.0


def test_a_concave_mirror_reverses_what_a_motion_says() -> None:
    plain = believe([Look(180, 1.0, "with"), Look(180, 2.0, "against")])
    concave = believe([Look(180, 1.0, "against", True), Look(180, 2.0, "with", True)])

    assert parts(concave.estimate) == pytest.approx(parts(plain.estimate), abs=1e-9)


def test_turning_signs_and_sides_turns_the_belief() -> None:
    """Optics know no preferred sign: minus powers and the other motion give the mirrored eye."""
    one = believe([Look(180, 1.0, "with"), Look(180, 2.0, "neutral"), Look(90, 3.0, "against")])
    other = believe([Look(180, -1.0, "against"), Look(180, -2.0, "neutral"), Look(90, -3.0, "with")])

    assert parts(other.estimate) == pytest.approx(mirrored(one), abs=0.02)


def test_a_speed_word_tells_how_far() -> None:
    looks = [Look(180, 0.0, "with")]
    no_slips = LookModel(lapse=0.0)
    fast, slow = (
        believe([Glance(looks[0], speed)], model=no_slips).interval_d(180) for speed in ("fast", "slow")
    )

    assert fast[1] < 1.5
    assert slow[0] > 0.5
    assert believe(looks, model=no_slips).interval_d(180)[1] > 10.0


def test_a_dull_reflex_is_probably_far() -> None:
    look = Look(180, 0.0, "with")
    plain, dull = (believe([Glance(look, dull=value)]).step_chances(180, 4.0) for value in (False, True))

    assert dull.get(0.0, 0.0) < plain[0.0]


def test_a_band_turned_from_the_streak_tells_the_axis() -> None:
    """Streak 90 with the band at 70: the turn is atan(torsion / distance), so J45 is that tangent times the distance."""
    looks = [Look(180, 2.0, "neutral"), Look(180, 0.0, "with"), Look(90, 0.0, "neutral")]
    band = Glance(Look(180, 0.0, "with"), band_deg=70.0)
    belief = believe([*looks, band], along_band=False)

    assert believe(looks, along_band=False).estimate.j45_d == pytest.approx(0.0, abs=0.1)
    assert belief.estimate.j45_d == pytest.approx(2.0 * math.tan(math.radians(-20.0)), abs=0.15)


def test_a_gross_slip_is_named() -> None:
    looks = [Look(180, power, "with") for power in (0.0, 1.0, 1.5)] + [
        Look(180, power, "against") for power in (2.0, 3.0)
    ]
    looks += [Look(180, 1.75, "neutral"), Look(180, 8.0, "with"), Look(180, 1.75, "neutral")]
    belief = believe(looks)

    assert belief.slips == (6,)
    assert belief.slip_chances[6] > 0.99


def test_chances_of_quarter_steps_make_one() -> None:
    belief = believe([Look(180, 1.75, "neutral"), Look(90, 1.0, "neutral")])
    chances = belief.step_chances(180)

    assert next(iter(chances)) == 1.75
    assert sum(chances.values()) == pytest.approx(1.0, abs=0.03)


def test_without_a_look_the_prior_stands() -> None:
    belief = believe([])

    assert parts(belief.estimate) == pytest.approx([0.0, 0.0, 0.0], abs=0.02)
    assert belief.prior is WIDE_PRIOR


@pytest.mark.parametrize("lapse", [-0.1, 1.0, math.nan])
def test_impossible_models_are_refused(lapse: float) -> None:
    with pytest.raises(ValueError, match="lapse"):
        LookModel(lapse=lapse)


@pytest.mark.parametrize("spread", [-0.1, math.inf])
def test_impossible_spreads_are_refused(spread: float) -> None:
    with pytest.raises(ValueError, match="noise spread"):
        LookModel(noise_spread=spread)


def test_the_noises_that_stand_for_its_spread_have_the_stated_mean_square() -> None:
    stated = ERRORS.neutrality_sd_d
    nodes = LookModel(ERRORS).by_noise

    assert sum(share for share, _ in nodes) == pytest.approx(1.0)
    assert math.sqrt(sum(share * model.errors.neutrality_sd_d**2 for share, model in nodes)) == pytest.approx(
        stated, rel=0.01
    )
    assert all(model.noise_spread == 0.0 for _, model in nodes)


@pytest.mark.parametrize("age", [-1.0, 130.0])
def test_impossible_ages_are_refused(age: float) -> None:
    with pytest.raises(ErrorModelError, match=r"0 to 120 is allowed"):
        age_prior(age)
