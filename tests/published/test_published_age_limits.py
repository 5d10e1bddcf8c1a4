"""Screening limits by age, cell by cell, against their sources."""

import pytest

from voicelog.exam.age_limits import exceeded
from voicelog.exam.entries import AgeEntry
from voicelog.exam.guidance import data

STEP_D = 0.01

# Guidelines of 2013 as a public handbook prints them (childrenseyewiki.org, "Guidelines for automated vision screening";
# age in months, astigmatism, hyperopia, anisometropia, myopia). The abstract of Donahue et al., J AAPOS 2013;17:4-8 prints
# the same for the first two rows of astigmatism, hyperopia and anisometropia.
PRINTED_2013 = {
    (12, 30): {"astigmatism": 2.0, "hyperopia": 4.5, "anisometropia": 2.5, "myopia": 3.5},
    (31, 48): {"astigmatism": 2.0, "hyperopia": 4.0, "anisometropia": 2.0, "myopia": 3.0},
    (49, 83): {"astigmatism": 1.5, "hyperopia": 3.5, "anisometropia": 1.5, "myopia": 1.5},
}
CELLS = [
    (month, name, above)
    for months, row in PRINTED_2013.items()
    for month in months
    for name, above in row.items()
]


def is_above(limit_id: str, value: float, months: int) -> bool:
    (limit,) = [each for each in data().age_limit if each.id == limit_id]
    age = AgeEntry(years=months // 12, months=months % 12)
    return limit_id in [each.limit.id for each in exceeded(limit.on, limit.measure, value, age)]


@pytest.mark.parametrize(("months", "name", "above"), CELLS)
def test_guidelines_of_2013(months: int, name: str, above: float) -> None:
    """At both ends of each row. That the last row ends at seven years is our choice."""
    assert not is_above(f"{name}_2013", above, months)
    assert is_above(f"{name}_2013", above + STEP_D, months)


def test_what_the_revision_changed() -> None:
    """Arnold et al., guidelines of 2021 (abstract read; it prints no figures): "the threshold for symmetric astigmatism
    raised compared to the 2013 guidelines, whereas the threshold for amblyogenic anisometropia has been decreased. After age
    4 years, lower magnitudes of symmetric astigmatism and myopia are also targeted"."""
    bands = {each.id: {band.from_months: band.above for band in each.bands} for each in data().age_limit}

    assert min(bands["astigmatism_2021"].values()) > min(bands["astigmatism_2013"].values())
    assert bands["astigmatism_2021"][12] > bands["astigmatism_2013"][12]
    assert max(bands["anisometropia_2021"].values()) < min(bands["anisometropia_2013"].values())
    for name in ("astigmatism", "myopia"):
        assert bands[f"{name}_2021"][48] < bands[f"{name}_2021"][12]


def test_only_what_was_read_is_called_read() -> None:
    standings = {each.id: each.standing for each in data().age_limit}

    assert {name for name, standing in standings.items() if standing == "memory"} == {
        "hyperopia_2021", "myopia_2021", "astigmatism_2021", "anisometropia_2021"
    }  # fmt: skip
