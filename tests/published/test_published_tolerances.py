"""A tolerance table as printed, and what they are worth in power-vector terms."""

import pytest

from voicelog.optics import (
    ANSI_Z80_1_2015,
    SpheroCylinder,
    agreement,
    difference,
)


def cylinder(power: float) -> SpheroCylinder:
    return SpheroCylinder(0.0, power, 90)


@pytest.mark.parametrize(
    ("sphere", "printed"),
    [(0.0, 0.13), (-6.50, 0.13), (6.50, 0.13), (-6.75, 0.135), (10.0, 0.20), (-20.0, 0.40)],
)
def test_ansi_sphere(sphere: float, printed: float) -> None:
    """ANSI Z80.1-2015 quick-reference guide (docslib.org 92180), table 1: 0.13 D to 6.50, then 2 %."""
    assert ANSI_Z80_1_2015.power_tolerance_d(SpheroCylinder(sphere)) == pytest.approx(printed)


@pytest.mark.parametrize(
    ("power", "printed"),
    [(-0.25, 0.13), (-2.00, 0.13), (-2.25, 0.15), (-4.50, 0.15), (-4.75, 0.19), (-6.0, 0.24)],
)
def test_ansi_cylinder(power: float, printed: float) -> None:
    """The same table: 0.13 D to 2.00, 0.15 to 4.50, then 4 %."""
    assert ANSI_Z80_1_2015.cylinder_tolerance_d(cylinder(power)) == pytest.approx(printed)


@pytest.mark.parametrize(
    ("power", "printed"),
    [
        (0.10, None),
        (0.12, 14),
        (0.25, 14),
        (0.37, 7),
        (0.50, 7),
        (0.62, 5),
        (0.75, 5),
        (1.00, 3),
        (1.50, 3),
        (1.62, 2),
        (5.00, 2),
    ],
)
def test_ansi_axis(power: float, printed: int | None) -> None:
    """The same guide, table 3; the 0.25 to 0.50 band at 7 and 1.62 and up at 2 also in opticianstudy.com, "ANSI
    standards"."""
    assert ANSI_Z80_1_2015.axis_tolerance_deg(cylinder(-power)) == printed


@pytest.mark.parametrize(("made", "passes"), [(-2.87, True), (-3.13, True), (-3.25, False)])
def test_ansi_worked_example(made: float, passes: bool) -> None:
    """opticianstudy.com, "ANSI standards": a -3.00 lens may be -2.87 to -3.13; -3.25 fails."""
    assert agreement(SpheroCylinder(-3.0), SpheroCylinder(made), ANSI_Z80_1_2015).within is passes


@pytest.mark.parametrize(("power", "allowed", "unwanted_d", "one_more_d"), [
    (0.25, 14, 0.121, 0.129),
    (0.50, 7, 0.122, 0.139),
])  # fmt: skip
def test_axis_tolerance_of_small_cylinders_matches_their_power_tolerance(
    power: float, allowed: int, unwanted_d: float, one_more_d: float
) -> None:
    """ "Revisions to tolerances in cylinder axis ... in ANSI Z80.1-2005", Optometry 2006;77:343-349 (abstract): 14
    degrees for 0.25 and 7 for 0.50, chosen so that the unwanted cylinder stays within the tolerance for cylinder power.

    The unwanted cylinder is 2 C sin(angle), by hand (the table of misplaced cylinders in this folder is of it). The
    tolerance is an eighth, 0.125 D, which the standard prints as 0.13. Against the eighth one degree more is too much
    for both; against the printed 0.13 only for 0.50 D, since 0.25 D at 15 degrees leaves 0.129."""

    def unwanted(turn: float) -> float:
        gap = difference(SpheroCylinder(0.0, -power, 90), SpheroCylinder(0.0, -power, 90 + turn))
        return 2.0 * gap.vector.astigmatism_d

    assert ANSI_Z80_1_2015.axis_tolerance_deg(cylinder(-power)) == allowed
    assert unwanted(allowed) == pytest.approx(unwanted_d, abs=0.0005)
    assert unwanted(allowed + 1) == pytest.approx(one_more_d, abs=0.0005)
    assert unwanted_d < 0.125 < one_more_d
