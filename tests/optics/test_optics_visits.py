"""The rate of change over visits against NumPy's weighted line."""

from random import Random

import numpy as np
import pytest

from voicelog.optics import yearly_change
from voicelog.optics.errors import ErrorModelError, NotFiniteError


@pytest.mark.parametrize("seed", range(20))
def test_slope_and_its_error_are_those_of_numpy(seed: int) -> None:
    random = Random(seed)
    count = random.randint(2, 9)
    years = [*sorted(random.uniform(0.0, 6.0) for _ in range(count - 1)), 7.0]
    powers_d = [random.uniform(-6.0, 3.0) for _ in years]
    sds_d = [random.uniform(0.1, 0.6) for _ in years]

    found = yearly_change(years, powers_d, sds_d)

    (slope, _), covariance = np.polyfit(years, powers_d, 1, w=[1.0 / sd for sd in sds_d], cov="unscaled")
    assert found is not None
    assert found.per_year_d == pytest.approx(slope, abs=1e-9)
    assert found.sd_d == pytest.approx(np.sqrt(covariance[0][0]), rel=1e-9)


def test_the_stated_interval_holds_the_true_rate_in_95_of_100() -> None:
    random = Random(7)
    years, sds_d, true_rate_d = [0.0, 0.5, 1.1, 2.0], [0.3, 0.2, 0.4, 0.3], -0.6
    inside = 0
    for _ in range(2000):
        powers_d = [true_rate_d * year + random.gauss(0.0, sd) for year, sd in zip(years, sds_d, strict=True)]
        found = yearly_change(years, powers_d, sds_d)
        assert found is not None
        inside += abs(found.per_year_d - true_rate_d) <= 1.96 * found.sd_d

    # Four standard errors of a share of 0.95 in 2,000.
    assert inside / 2000 == pytest.approx(0.95, abs=4 * (0.95 * 0.05 / 2000) ** 0.5)


def test_visits_close_together_tell_no_rate() -> None:
    assert yearly_change([], [], []) is None
    assert yearly_change([0.0, 0.2], [0.0, -1.0], [0.3, 0.3]) is None


def test_what_is_no_number_or_no_error_is_refused() -> None:
    with pytest.raises(NotFiniteError):
        yearly_change([0.0, 1.0], [float("nan"), 0.0], [0.3, 0.3])
    with pytest.raises(ErrorModelError):
        yearly_change([0.0, 1.0], [0.0, 0.0], [0.3, 0.0])
