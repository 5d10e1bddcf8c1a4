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


def test_no_limit_is_from_memory() -> None:
    """The revision of 2021 (Arnold et al., abstract read) prints no figures there, and so has no limit here."""
    assert {each.standing for each in data().age_limit} == {"second hand"}
    assert {each.guideline for each in data().age_limit} == {"2013"}
