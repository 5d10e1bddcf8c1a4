"""Tails and limits against SciPy, and the judgement of readings against NumPy's least squares."""

import numpy as np
import pytest
from scipy import stats
from scipy.integrate import quad

from voicelog.optics.disagreement import FALSE_ALARM, judge
from voicelog.optics.motion import bracket_sd_d
from voicelog.optics.region import distance_chance
from voicelog.optics.significance import chi_square_chance, one_sided_limit_sd, two_sided_chance


@pytest.mark.parametrize("degrees", range(1, 25))
def test_chi_square_tail(degrees: int) -> None:
    for value in (0.0, 1e-6, 0.3, 1.0, 4.0, 9.2, 25.0, 80.0, 300.0):
        expected = stats.chi2.sf(value, degrees)
        assert chi_square_chance(value, degrees) == pytest.approx(expected, rel=1e-11, abs=1e-300)


@pytest.mark.parametrize("deviation", [0.0, 0.4, -1.0, 2.576, -5.0, 12.0])
def test_normal_tail(deviation: float) -> None:
    assert two_sided_chance(deviation) == pytest.approx(2.0 * stats.norm.sf(abs(deviation)), rel=1e-12)


@pytest.mark.parametrize("chance", [0.5, 0.05, 0.01, 0.001, 1e-6])
def test_normal_limit(chance: float) -> None:
    assert one_sided_limit_sd(chance) == pytest.approx(stats.norm.isf(chance), abs=1e-12)


@pytest.mark.parametrize("share", [0.0, 1e-6, 0.1, 0.5, 0.99, 1.0])
def test_chance_of_two_whole_squares_and_a_share_of_a_third(share: float) -> None:
    """Against the integral over the third normal value."""
    for distance in (0.1, 2.0, 5.991, 7.815, 20.0):
        whole, _ = quad(
            lambda z, d=distance: 2.0 * stats.norm.pdf(z) * stats.chi2.sf(d - share * z * z, 2),
            0.0,
            9.0,
            limit=200,
            points=[min(9.0, (distance / share) ** 0.5)] if share else None,
        )
        assert distance_chance(distance, share) == pytest.approx(whole, rel=1e-6)


@pytest.mark.parametrize("judgement_sd", [0.05, 0.26, 1.0])
@pytest.mark.parametrize("width", [0.0, 0.25, 0.5, 2.0, 6.0])
def test_spread_of_a_neutral_power_between_two_motions(width: float, judgement_sd: float) -> None:
    """Against integration: anything at first, judged above the one lens and below the other."""

    def likely(power: float) -> float:
        above, below = power / judgement_sd, (width - power) / judgement_sd
        return float(stats.norm.cdf(above) * stats.norm.cdf(below))

    ends = (-9.0 * judgement_sd, width + 9.0 * judgement_sd)
    total, _ = quad(likely, *ends, limit=200)
    second, _ = quad(lambda power: likely(power) * (power - width / 2.0) ** 2, *ends, limit=200)

    assert bracket_sd_d(width, judgement_sd) == pytest.approx((second / total) ** 0.5, rel=1e-6)


def test_without_errors_a_bracket_is_uniform() -> None:
    assert bracket_sd_d(0.5, 0.0) == pytest.approx(0.5 / 12.0**0.5)


@pytest.mark.parametrize("count", [4, 5, 8, 12])
def test_judged_residuals_are_those_of_weighted_least_squares(count: int) -> None:
    """The deleted residual is worked out by leaving each reading out in turn: no hat matrix."""
    rng = np.random.default_rng(count)
    turns = np.radians(rng.uniform(0.0, 360.0, count))
    design = np.stack([np.ones(count), np.cos(turns), np.sin(turns)], axis=1)
    sds = rng.uniform(0.1, 0.6, count)
    powers = design @ [1.0, -0.5, 0.25] + rng.normal(0.0, sds)

    judged = judge([tuple(row) for row in design.tolist()], powers.tolist(), sds.tolist())

    for left_out in range(count):
        rest = np.arange(count) != left_out
        weighted = design[rest] / sds[rest, None]
        others = np.linalg.lstsq(weighted, powers[rest] / sds[rest], rcond=None)[0]
        spread = design[left_out] @ np.linalg.inv(weighted.T @ weighted) @ design[left_out]
        expected = design[left_out] @ others
        assert judged.expected_d[left_out] == pytest.approx(expected, abs=1e-9)
        apart = (powers[left_out] - expected) / (sds[left_out] ** 2 + spread) ** 0.5
        assert judged.standardised[left_out] == pytest.approx(apart, abs=1e-9)


SPREADS = ((4, 1), (5, 1), (6, 1), (3, 2), (4, 2), (6, 2))
"""How many meridians are read, evenly spread, and how often each."""


def conflicts_called(meridians: int, repeats: int, exams: int) -> int:
    """In how many exams with normal errors of known size a conflict is called."""
    rng = np.random.default_rng([meridians, repeats])
    turns = np.repeat(2.0 * np.pi * np.arange(meridians) / meridians, repeats)
    design = [(1.0, float(np.cos(turn)), float(np.sin(turn))) for turn in turns]
    sds = [0.3] * len(turns)

    return sum(judge(design, row, sds).conflict for row in rng.normal(0.0, 0.3, (exams, len(turns))).tolist())


def is_one_in_a_hundred(conflicts: int, exams: int) -> bool:
    """At most 1 %, and not far below, or slips would go by."""
    low = stats.binom.ppf(0.0001, exams, 0.7 * FALSE_ALARM)
    return bool(low <= conflicts <= stats.binom.ppf(0.9999, exams, FALSE_ALARM))


def test_a_conflict_is_called_in_one_of_a_hundred_exams() -> None:
    """Each spread by itself, and all together, which tells a rate as sharply as the sweep does of one."""
    called = [conflicts_called(*spread, exams=4000) for spread in SPREADS]

    assert [each for each in called if not is_one_in_a_hundred(each, 4000)] == []
    assert is_one_in_a_hundred(sum(called), 4000 * len(SPREADS))


@pytest.mark.sweep
@pytest.mark.parametrize(("meridians", "repeats"), SPREADS)
def test_in_every_spread_a_conflict_is_called_in_one_of_a_hundred_exams(meridians: int, repeats: int) -> None:
    assert is_one_in_a_hundred(conflicts_called(meridians, repeats, 20_000), 20_000)


def test_readings_nobody_checks_are_never_a_conflict() -> None:
    judged = judge([(1.0, 1.0), (1.0, -1.0)], [9.0, -9.0], [0.1, 0.1])

    assert not judged.conflict
    assert judged.standardised == (0.0, 0.0)
    assert judged.expected_d == (9.0, -9.0)
