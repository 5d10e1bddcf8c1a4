"""How fast a refraction changes over visits: a straight line through its spherical equivalents."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from voicelog.optics import checks
from voicelog.optics.errors import ErrorModelError

LEAST_YEARS: Final = 0.25
"""Visits closer together than this tell no rate: our own choice, no source."""


@dataclass(frozen=True, slots=True)
class YearlyChange:
    """Change of M in a year and its standard deviation, dioptres; minus is towards myopia."""

    per_year_d: float
    sd_d: float


def yearly_change(
    years: Sequence[float], m_d: Sequence[float], m_sds_d: Sequence[float]
) -> YearlyChange | None:
    """The slope of M over time by least squares, each visit weighted by 1/sd²; None while less than a quarter year
    lies between the first and the last.

    years, m_d, m_sds_d  n times (years), n spherical equivalents and their standard deviations, dioptres

    Slope and variance of a line fitted to values of known error (a standard result, from memory; checked against
    NumPy's `polyfit` in the tests). Raises NotFiniteError, ErrorModelError.
    """
    for name, values in (("time", years), ("M", m_d), ("standard deviation", m_sds_d)):
        for value in values:
            checks.finite(name, value)
    if any(sd <= 0.0 for sd in m_sds_d):
        raise ErrorModelError("a standard deviation above 0 is needed for each visit")
    if not years or max(years) - min(years) < LEAST_YEARS:
        return None
    weights = [1.0 / sd**2 for sd in m_sds_d]
    total = sum(weights)
    mean_year = sum(w * t for w, t in zip(weights, years, strict=True)) / total
    mean_m = sum(w * m for w, m in zip(weights, m_d, strict=True)) / total
    spread = sum(w * (t - mean_year) ** 2 for w, t in zip(weights, years, strict=True))
    rise = sum(w * (t - mean_year) * (m - mean_m) for w, t, m in zip(weights, years, m_d, strict=True))
    return YearlyChange(rise / spread, spread**-0.5)
