"""Transposition, crossed cylinders, power cross and spherical equivalent, from print."""

import pytest

from tests.published.published_checks import lens
from voicelog.optics import CrossedCylinders, SpheroCylinder, from_written_power_d

PRINTED = {
    # National Federation of Opticianry Schools, Optics 11, module 8 c (nfos.org/degree/opt11/module_08c.html).
    "+1.50 -0.50 x125": "+1.00 +0.50 x035",
    # The same course, practice answers 8 (nfos.org/degree/opt11/practice_answers_08.html).
    "-1.00 -1.00 x180": "-2.00 +1.00 x090",
    "+0.50 -2.00 x030": "-1.50 +2.00 x120",
    "-1.00 +1.00 x080": "pl -1.00 x170",
    "-1.00 +3.00 x110": "+2.00 -3.00 x020",
    "+8.75 -2.25 x005": "+6.50 +2.25 x095",
    "-16.75 -2.00 x179": "-18.75 +2.00 x089",
    "-0.75 +1.00 x092": "+0.25 -1.00 x002",
    "+0.25 -0.50 x135": "-0.25 +0.50 x045",
    "pl -0.50 x058": "-0.50 +0.50 x148",
    "+3.50": "+3.50",
    # Wikipedia, "Eyeglass prescription" (liquisearch.com copy).
    "+2.00 +1.00 x150": "+3.00 -1.00 x60",
    # practicequiz.com 44547.
    "+1.00 +3.00 x90": "+4.00 -3.00 x180",
    # Ophthalmic assistant questions (stuvia 6431202).
    "-2.50 +1.00 x175": "-1.50 -1.00 x85",
    # Mock examination 10, station 3 (mrcophth.com/mock/mock10/stationthree.html), two.
    "-2.00 +1.50 x90": "-0.50 -1.50 x180",
    "+3.00 -1.00 x180": "+2.00 +1.00 x90",
    # Multiple-choice question 29 (mrcophth.com).
    "+4.00 +2.00 x90": "+6.00 -2.00 x180",
    # ABO advanced, transposition (open-exam-prep.com).
    "+3.00 -1.50 x090": "+1.50 +1.50 x180",
    # practicetestvault.com 99774.
    "-2.00 -1.00 x090": "-3.00 +1.00 x180",
}


@pytest.mark.parametrize(("given", "printed"), PRINTED.items())
def test_printed_transpositions(given: str, printed: str) -> None:
    assert lens(given).transposed() == lens(printed)


def test_misprinted_axis_sign() -> None:
    """NFOS practice answers 8 print "-14.75 -2.00 -095" for -16.75 +2.00 x005: the x was typed as a minus; an axis
    has no sign. The numbers agree."""
    assert lens("-16.75 +2.00 x005").transposed() == lens("-14.75 -2.00 x095")


def test_eighths_are_cut_off_in_print() -> None:
    """NFOS practice answers 8 print -1.62 +1.75 x115 -> +0.12 -1.75 x025. The written eighths are truncated, so it
    agrees in eighths; adding the printed digits would give +0.13."""
    given = SpheroCylinder(from_written_power_d(-1.62), 1.75, 115)

    assert str(given.transposed()) == "+0.12 -1.75 x 025"
    assert given.transposed().sphere_d == 0.125


def test_printed_rule_for_large_axes_is_wrong() -> None:
    """One web page prints "90 < axis < 180: 180 - axis" for transposition; for axis 100 that is 80, while the new
    axis must be at right angles: 10. (It looks right at 135.)"""
    assert lens("+1.00 -1.00 x100").transposed().axis_deg == 10.0
    assert lens("+1.00 -1.00 x135").transposed().axis_deg == 180.0 - 135.0


def test_answer_that_forgot_the_cylinder() -> None:
    """qammunity.org 18573981 prints "+2.00 DC x 90 ... the sphero-cylindrical form is +2.00 DS". A single cylinder
    is no sphere: along 90 it has no power. It is +2.00 -2.00 x 180."""
    cylinder = SpheroCylinder(0.0, 2.0, 90)

    assert cylinder.minus_cylinder() == lens("+2.00 -2.00 x180")
    assert cylinder.power_along_d(90) == 0.0


@pytest.mark.parametrize(
    ("given", "printed"),
    [
        # Ophthalmic assistant questions (stuvia 6431202).
        ("+2.00 +5.00 x180", 4.50),
        # Certified ophthalmic technician, autorefraction and retinoscopy (open-exam-prep.com).
        ("-3.00 -2.00 x180", -4.00),
        # Multiple-choice question 29 (mrcophth.com).
        ("+4.00 +2.00 x90", 5.00),
        # ABO advanced, transposition (open-exam-prep.com).
        ("+3.00 -1.50 x090", 2.25),
    ],
)
def test_printed_spherical_equivalents(given: str, printed: float) -> None:
    assert lens(given).spherical_equivalent_d == printed
    assert lens(given).vector.m_d == printed


@pytest.mark.parametrize(
    ("given", "cross"),
    [
        # NFOS Optics 11, module 8 c, optical cross.
        ("+1.50 -0.50 x125", {125.0: 1.50, 35.0: 1.00}),
        # Wikipedia, "Eyeglass prescription".
        ("+2.00 +1.00 x150", {150.0: 2.00, 60.0: 3.00}),
    ],
)
def test_printed_power_crosses(given: str, cross: dict[float, float]) -> None:
    assert dict(lens(given).power_cross()) == cross
    for meridian, power in cross.items():
        assert lens(given).power_along_d(meridian) == pytest.approx(power, abs=1e-12)


def test_printed_crossed_cylinders() -> None:
    """Optom Insight, "Power cross to sphero-cylinder" (optominsight.com): -2.00 DC x 180 with +3.00 DC x 90 is
    -2.00 / +5.00 x 90."""
    crossed = CrossedCylinders(-2.00, 180, 3.00)

    assert crossed.second_axis_deg == 90.0
    assert crossed.to_sphero_cylinder("plus") == lens("-2.00 +5.00 x90")
    assert lens("-2.00 +5.00 x90").crossed_cylinders() == CrossedCylinders(3.00, 90, -2.00)


def test_zero_is_written_180() -> None:
    """Clinic convention 1 to 180: open-exam-prep.com, ABO advanced, prints "1 to 180"; "never 0" is common practice,
    no source."""
    assert lens("-1.00 -1.00 x090").transposed() == lens("-2.00 +1.00 x180")


def test_axis_is_written_with_three_digits() -> None:
    """Flash cards, session 2 (brainscape.com): the axis is "always written with 3 numbers"."""
    assert str(lens("-16.75 +2.00 x005")) == "-16.75 +2.00 x 005"
