"""Agreement of two refractions within a standard's tolerances."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.optics.optics_cases import lenses, repeatable
from tests.some import some
from voicelog.optics import (
    ANSI_Z80_1_2015,
    SpheroCylinder,
    ToleranceTable,
    agreement,
)

TABLES = [ANSI_Z80_1_2015]
tables = st.sampled_from(TABLES)


@repeatable
@given(lens=lenses(), table=tables)
def test_a_lens_agrees_with_itself_in_either_form(lens: SpheroCylinder, table: ToleranceTable) -> None:
    assert agreement(lens, lens, table).within
    assert agreement(lens, lens.transposed(), table).within


@repeatable
@given(lens=lenses(largest_d=12.0), table=tables, off=st.floats(0.8, 3.0))
def test_a_large_sphere_difference_never_agrees(
    lens: SpheroCylinder, table: ToleranceTable, off: float
) -> None:
    other = SpheroCylinder(lens.sphere_d + off, lens.cylinder_d, lens.axis_deg)

    found = agreement(lens, other, table)

    assert not found.within
    assert [problem.code for problem in found.problems] == ["power_outside"]


@repeatable
@given(lens=lenses(), table=tables)
def test_the_form_of_the_nominal_lens_does_not_matter(lens: SpheroCylinder, table: ToleranceTable) -> None:
    other = SpheroCylinder(lens.sphere_d, lens.cylinder_d * 0.9, lens.axis_deg)

    assert agreement(lens, other, table) == agreement(lens.transposed(), other, table)


@pytest.mark.parametrize("table", TABLES, ids=lambda table: table.name)
def test_tables_name_their_source_and_never_tighten_with_power(table: ToleranceTable) -> None:
    """Every tolerance is at least as wide for a stronger lens of the same cylinder; the axis narrows."""
    assert table.name.split(":")[0].split("-")[0] in table.source
    powers = [table.power_tolerance_d(SpheroCylinder(k / 4.0)) for k in range(121)]
    assert all(later >= earlier - 0.01 for earlier, later in itertools.pairwise(powers))
    axes = [some(table.axis_tolerance_deg(SpheroCylinder(0.0, -k / 4.0, 90.0))) for k in range(1, 40)]
    assert axes == sorted(axes, reverse=True)


def test_the_words_name_difference_and_limit() -> None:
    found = agreement(SpheroCylinder(1.0, -0.5, 90), SpheroCylinder(1.0, -0.5, 100), ANSI_Z80_1_2015)

    assert found.problems[0].text == "axis differs by 10 degrees; allowed is 7 degrees"


def test_axis_is_compared_across_the_seam_and_not_without_a_cylinder() -> None:
    assert agreement(SpheroCylinder(1.0, -2.0, 180), SpheroCylinder(1.0, -2.0, 2), ANSI_Z80_1_2015).within
    assert agreement(SpheroCylinder(1.0, -0.1, 90), SpheroCylinder(1.0, -0.1, 1), ANSI_Z80_1_2015).within
    assert agreement(SpheroCylinder(1.0, -0.1, 90), SpheroCylinder(1.0), ANSI_Z80_1_2015).within
    with_cylinder = agreement(SpheroCylinder(1.0, -0.5, 90), SpheroCylinder(1.0), ANSI_Z80_1_2015)
    assert [problem.code for problem in with_cylinder.problems] == ["cylinder_outside"]
