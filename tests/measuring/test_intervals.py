"""Intervals against scipy's."""

import math

import pytest
from scipy import stats

from voicelog.measuring.intervals import poisson, wilson


@pytest.mark.parametrize(("count", "total"), [(0, 1), (0, 500), (1, 500), (7, 24), (442, 453), (24, 24)])
def test_wilson_agrees_with_scipy(count: int, total: int) -> None:
    theirs = stats.binomtest(count, total).proportion_ci(0.95, method="wilson")

    assert wilson(count, total) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


@pytest.mark.parametrize(("count", "hours"), [(0, 2.0), (1, 0.5), (3, 1.0), (40, 2.5), (700, 10.0)])
def test_poisson_agrees_with_the_chi_square_form(count: int, hours: float) -> None:
    """Garwood's interval in terms of chi-square quantiles, from scipy."""
    low = stats.chi2.ppf(0.025, 2 * count) / 2 if count else 0.0
    high = stats.chi2.ppf(0.975, 2 * count + 2) / 2

    assert poisson(count, hours) == pytest.approx((low / hours, high / hours), rel=1e-9)


def test_nothing_measured_says_nothing() -> None:
    assert wilson(0, 0) == (0.0, 1.0)
    assert poisson(0, 0.0) == (0.0, math.inf)


@pytest.mark.parametrize(("count", "total"), [(-1, 5), (6, 5)])
def test_counts_that_cannot_be(count: int, total: int) -> None:
    with pytest.raises(ValueError, match="no share"):
        wilson(count, total)
    with pytest.raises(ValueError, match="no rate"):
        poisson(-1, total)
