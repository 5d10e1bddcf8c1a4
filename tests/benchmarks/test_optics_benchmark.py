"""Speed of solving (pytest-benchmark): 100,000 solves in under a second, one in under 100 microseconds.

The limits are asserted only when benchmarks are on (`pytest --benchmark-enable`) and on the fastest round, so a
busy machine cannot fail them; a plain run only checks the answers.
"""

from typing import Any

import numpy as np
import pytest

from tests.optics.many_solves import solve_many
from voicelog.optics import ErrorModel, MeridianReading, SpheroCylinder, solve_readings

ONE_SOLVE_S = 100e-6
ALL_SOLVES_S = 1.0
SOLVES = 100_000

EYE = SpheroCylinder(-1.25, -2.0, 37.0)
PRINCIPAL = [MeridianReading(meridian, power) for meridian, power in EYE.power_cross()]
FOUR = [MeridianReading(angle, EYE.power_along_d(angle)) for angle in (45, 90, 135, 180)]


@pytest.mark.parametrize("readings", [PRINCIPAL, FOUR], ids=["two", "four"])
@pytest.mark.parametrize("errors", [None, ErrorModel(allowance_sd_d=0.045)], ids=["plain", "uncertainty"])
def test_one_solve(benchmark: Any, readings: list[MeridianReading], errors: ErrorModel | None) -> None:
    solution = benchmark(solve_readings, readings, 0.0, errors=errors)

    assert solution.net == EYE
    if benchmark.enabled:
        assert benchmark.stats.stats.min < ONE_SOLVE_S


@pytest.mark.parametrize("count", [2, 3, 8])
def test_many_solves(benchmark: Any, count: int) -> None:
    rng = np.random.default_rng(5)
    sphere, cylinder = rng.uniform(-10.0, 10.0, SOLVES), rng.uniform(-4.0, 0.0, SOLVES)
    axis = rng.integers(1, 91, SOLVES).astype(float)
    turns = np.array([0.0, 90.0]) if count == 2 else np.arange(count) * 180.0 / count
    meridians = (axis[:, None] + turns) % 180.0
    meridians[meridians == 0.0] = 180.0
    powers = sphere[:, None] + cylinder[:, None] * np.sin(np.radians(meridians - axis[:, None])) ** 2

    many = benchmark(solve_many, meridians, powers + 1.5, 1.5)

    assert np.abs(many.sphere_d - sphere).max() < 1e-9
    assert np.abs(many.cylinder_d - cylinder).max() < 1e-9
    if benchmark.enabled:
        assert benchmark.stats.stats.min < ALL_SOLVES_S
