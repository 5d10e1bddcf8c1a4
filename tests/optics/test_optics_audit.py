"""Audit figures: equal to SciPy's where it has them, and true of simulated examiners whose faults are known."""

import math
import random
from collections.abc import Sequence

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import stats

from tests.some import some
from voicelog.optics import PowerVector, SpheroCylinder
from voicelog.optics.audit import (
    axis_scatter,
    distance_bias,
    method_agreement,
    own_errors,
    repeatability,
)
from voicelog.optics.significance import chi_square_limit, student_chance, student_limit

Values = NDArray[np.float64]
BIASES_CM = (-6, -4, -2, 0, 2, 4, 6)
COVERED = 0.95


@pytest.mark.parametrize("degrees", [1, 2, 3, 4, 9, 10, 49, 120])
def test_student_and_chi_square_limits_are_those_of_scipy(degrees: int) -> None:
    for value in (0.0, 0.3, 1.0, 2.5, 7.0):
        assert student_chance(value, degrees) == pytest.approx(2 * stats.t.sf(value, degrees), abs=1e-12)
    for chance in (0.01, 0.05, 0.5, 0.975):
        assert student_limit(chance, degrees) == pytest.approx(stats.t.isf(chance / 2, degrees))
        assert chi_square_limit(chance, degrees) == pytest.approx(stats.chi2.isf(chance, degrees))


@pytest.mark.parametrize("count", [2, 7, 50])
def test_agreement_of_one_eye_an_exam_is_that_of_scipy(count: int) -> None:
    """Mean, interval and standard deviation by SciPy; the limits' intervals by the noncentral t, which is exact and which
    the usual approximation nears with more exams (Carkeet, Optom Vis Sci 2015;92:e71-80, from memory)."""
    values = np.random.default_rng(count).normal(0.2, 0.4, count)

    found = some(method_agreement([[each] for each in values]))

    test = stats.ttest_1samp(values, 0.0).confidence_interval(0.95)
    assert (found.bias_interval.low, found.bias_interval.high) == pytest.approx((test.low, test.high))
    assert found.bias == pytest.approx(np.mean(values))
    assert found.sd == pytest.approx(stats.tstd(values))
    assert (found.lower, found.upper) == pytest.approx(
        stats.norm(np.mean(values), stats.tstd(values)).interval(0.95), abs=1e-4
    )
    if count == 50:
        exact = [
            found.bias
            + found.sd * stats.nct.ppf(chance, 49, stats.norm.ppf(0.975) * math.sqrt(50)) / math.sqrt(50)
            for chance in (0.025, 0.975)
        ]
        assert (found.upper_interval.low, found.upper_interval.high) == pytest.approx(exact, abs=0.04)


def test_two_eyes_of_a_person_do_not_count_twice() -> None:
    once = some(method_agreement([[value] for value in (0.1, 0.5, -0.2, 0.3)]))
    twice = some(method_agreement([[value, value] for value in (0.1, 0.5, -0.2, 0.3)]))

    assert twice.bias_interval == once.bias_interval
    assert twice.values == 8
    assert method_agreement([[0.1, 0.2]]) is None


def test_repeatability_is_the_analysis_of_variance_of_scipy() -> None:
    """The mean square within groups from SciPy's F of the same data: F = between / within."""
    rng = np.random.default_rng(5)
    eyes = [rng.normal(rng.normal(0, 2), 0.25, count) for count in (2, 3, 2, 4)]

    found = some(repeatability([[PowerVector(m, 0.1 * m, 0.0) for m in each] for each in eyes]))

    every = np.concatenate(eyes)
    between = sum(len(each) * (np.mean(each) - np.mean(every)) ** 2 for each in eyes) / (len(eyes) - 1)
    within = between / stats.f_oneway(*eyes).statistic
    assert found.m_sd_d == pytest.approx(math.sqrt(within))
    assert (found.eyes, found.passes, found.degrees) == (4, 11, 7)
    assert found.m_interval_d.low == pytest.approx(math.sqrt(7 * within / stats.chi2.ppf(0.975, 7)))
    assert found.m_interval_d.high == pytest.approx(math.sqrt(7 * within / stats.chi2.ppf(0.025, 7)))
    assert found.j45_sd_d == 0.0
    assert repeatability([[PowerVector(1.0, 0.0, 0.0)]]) is None


def quarters(values: Values) -> Values:
    return np.asarray(np.round(values * 4) / 4)


def simulated(
    rng: np.random.Generator, bias_cm: float, judgement_sd_d: float = 0.3
) -> list[list[tuple[float, float]]]:
    """Fifty exams of an examiner who holds the scope nearer or farther than said: (distance said, difference of M).

    Both meridians of each eye are neutralised with quarter steps at the distance really held, by a judgement that varies
    by so much. The refined result is the truth with a scatter of 0.15 D (Rosenfield & Chiu 1995), in quarter steps.
    """
    eyes = rng.integers(1, 3, 50)
    said_m = np.repeat(rng.choice([0.5, 0.67, 0.67, 0.67, 0.8], 50), eyes)
    count = len(said_m)
    sphere_d, cylinder_d = rng.uniform(-6, 4, count), -rng.uniform(0, 3, count)
    held_m = said_m + bias_cm / 100 + rng.normal(0, 0.02, count)
    first = quarters(sphere_d + 1 / held_m + rng.normal(0, judgement_sd_d, count))
    second = quarters(sphere_d + cylinder_d + 1 / held_m + rng.normal(0, judgement_sd_d, count))
    refined_d = quarters(sphere_d + rng.normal(0, 0.15, count)) + quarters(cylinder_d) / 2
    off_d = (first + second) / 2 - 1 / said_m - refined_d
    ends = np.cumsum(eyes)
    return [
        [(float(said_m[eye]), float(off_d[eye])) for eye in range(end - some_eyes, end)]
        for end, some_eyes in zip(ends, eyes, strict=True)
    ]


def test_a_known_bias_of_distance_lies_in_its_interval() -> None:
    """Of 700 examiners the share whose interval holds the truth is 95 %, but for chance (four standard errors); and the
    bias found is the true one for each size, within four standard errors of a mean of 100."""
    held = 0
    for bias_cm in BIASES_CM:
        rng = np.random.default_rng(1000 + bias_cm)
        found = [some(distance_bias(simulated(rng, bias_cm))) for _ in range(100)]
        held += sum(each.interval_m.holds(bias_cm / 100) for each in found)
        biases = [each.bias_m for each in found]
        assert np.mean(biases) == pytest.approx(bias_cm / 100, abs=float(4 * np.std(biases) / 10))

    assert held / 700 == pytest.approx(COVERED, abs=4 * math.sqrt(COVERED * (1 - COVERED) / 700))


@pytest.mark.sweep
@pytest.mark.parametrize("judgement_sd_d", [0.15, 0.3, 0.5])
def test_known_biases_of_many_examiners(judgement_sd_d: float, capsys: pytest.CaptureFixture[str]) -> None:
    """400 examiners a bias: each by itself within four standard errors of 95 %, all together within three of theirs."""
    shares, every = [], 0
    for bias_cm in BIASES_CM:
        rng = np.random.default_rng([bias_cm + 100, round(1000 * judgement_sd_d)])
        found = [some(distance_bias(simulated(rng, bias_cm, judgement_sd_d))) for _ in range(400)]
        held = sum(each.interval_m.holds(bias_cm / 100) for each in found)
        every += held
        shares.append(held / 400)
        half_cm = 50 * np.mean([each.interval_m.high - each.interval_m.low for each in found])
        with capsys.disabled():
            mean_cm = 100 * np.mean([each.bias_m for each in found])
            print(
                f"\nSD {judgement_sd_d:.2f} D, {bias_cm:+d} cm: {held} of 400 held ({held / 4:.1f} %), mean {mean_cm:+.2f} cm, interval +-{half_cm:.1f} cm",
                end="",
            )
    error = math.sqrt(COVERED * (1 - COVERED) / (400 * len(BIASES_CM)))
    with capsys.disabled():
        print(f"\nSD {judgement_sd_d:.2f} D, all: {every / 28:.2f} % +- {100 * error:.2f} %")
    assert every / (400 * len(BIASES_CM)) == pytest.approx(COVERED, abs=3 * error)
    assert min(shares) > COVERED - 4 * math.sqrt(COVERED * (1 - COVERED) / 400)


def test_nearer_is_too_plus_and_what_no_distance_explains_has_none() -> None:
    """Said 67 cm and held at 50: half a dioptre too plus, from the printed allowances 1.50 and 2.00 D."""
    found = some(distance_bias([[(0.67, 0.50)], [(0.67, 0.50)]]))

    assert found.bias_m == pytest.approx(-0.17, abs=0.005)
    assert distance_bias([[(0.67, -3.0)], [(0.67, -3.1)]]) is None
    assert distance_bias([[(0.67, 0.5)]]) is None


def test_own_errors_give_back_the_scatter_of_one_reading() -> None:
    """Passes of two readings each, of a known scatter and without steps."""
    rng = random.Random(3)

    def passes() -> Sequence[PowerVector]:
        return [PowerVector((rng.gauss(0, 0.4) + rng.gauss(0, 0.4)) / 2, 0.0, 0.0) for _ in range(3)]

    repeats = some(repeatability([passes() for _ in range(2000)]))

    assert own_errors(repeats, lens_step_d=0.0).neutrality_sd_d == pytest.approx(0.4, abs=0.02)
    assert own_errors(repeats).neutrality_sd_d == pytest.approx(math.sqrt(0.4**2 - 0.25**2 / 12), abs=0.02)


def test_axes_scatter_by_the_size_of_the_cylinder() -> None:
    small, large = SpheroCylinder(0.0, -0.5, 10), SpheroCylinder(0.0, -2.5, 90)
    pairs = [
        (SpheroCylinder(1.0, -0.75, 176), small),
        (SpheroCylinder(1.0, -0.5, 14), small),
        (SpheroCylinder(-2.5, 2.5, 3), large),
        (SpheroCylinder(1.0), small),
    ]

    few, many = axis_scatter(pairs)

    assert (few.from_d, few.eyes, few.turn_deg) == (0.25, 2, -5.0)
    assert few.scatter_deg == pytest.approx(math.sqrt((14**2 + 4**2) / 2))
    assert (many.eyes, many.turn_deg, many.scatter_deg) == (1, 3.0, 3.0)
