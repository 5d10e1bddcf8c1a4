"""Power along a meridian, and refractions from powers along meridians, from print."""

import pytest

from tests.published.published_checks import lens
from voicelog.optics import MeridianReading, SpheroCylinder, solve_readings

TO_PRINT_D = 0.005 + 1e-9  # two printed decimals


@pytest.mark.parametrize(
    ("given", "meridian", "printed"),
    [
        # ABO-NCLE review, oblique cylinders, example 1 (aboc.8m.com/12.html).
        ("+2.00 +5.00 x30", 180, 3.25),
        # Optician Study, "Powers in oblique meridians formula" (opticianstudy.com), examples 1, 2, 4.
        ("-8.00 -2.00 x112", 180, -9.72),
        ("-4.00 -0.75 x048", 180, -4.41),
        ("-2.50 -1.25 x076", 90, -2.57),
        # OpticalEd, "Oblique meridian", 2009 (opticaled.com), example 1.
        ("+3.00 -1.50 x102", 90, 2.94),
        # Low vision question 8 (lowvision.sakura.ne.jp/Q8.htm).
        ("+2.00 -5.00 x90", 45, -0.50),
        # Pass Your Opticianry Boards, "Power in any meridian" part 2.
        ("-1.00 -2.00 x180", 180, -1.00),
        ("-1.00 -2.00 x180", 90, -3.00),
        ("-3.00 -1.50 x60", 150, -4.50),
        # Burek, "Tri-meridional analysis using arbitrary meridians", Ophthalmic Physiol Opt 1990;10, first page:
        # +3.00/-4.00 x 30 at 180; then +3.00, +2.00, +1.00 with labels lost in the scan, which fit 30, 60, 75.
        ("+3.00 -4.00 x30", 180, 2.00),
        ("+3.00 -4.00 x30", 30, 3.00),
        ("+3.00 -4.00 x30", 60, 2.00),
        ("+3.00 -4.00 x30", 75, 1.00),
    ],
)
def test_printed_powers_along_a_meridian(given: str, meridian: int, printed: float) -> None:
    """The -2.50 -1.25 x076 example prints -2.57 for -2.5732 and +2.94 stands for +2.9352: both round to print."""
    assert lens(given).power_along_d(meridian) == pytest.approx(printed, abs=TO_PRINT_D)
    assert lens(given).vector.power_along_d(meridian) == pytest.approx(printed, abs=TO_PRINT_D)


def test_printed_power_from_a_power_cross() -> None:
    """Optician Study, example 3: -2.00 at 037 and -3.00 at 127 (meridians), power at 180 printed -2.36."""
    readings = [MeridianReading(37, -2.00), MeridianReading(127, -3.00)]

    vector = solve_readings(readings).vector
    assert vector is not None
    assert vector.power_along_d(180) == pytest.approx(-2.36, abs=TO_PRINT_D)


def test_misread_cylinder() -> None:
    """OpticalEd, "Oblique meridian", example 2 prints -10.87 for -10.25 -2.50 x040 at 180. It used -1.50 for -2.50:
    with -1.50 the printed number comes out. Right is -11.28 (-10.25 - 2.50 sin^2 40)."""
    assert SpheroCylinder(-10.25, -1.50, 40).power_along_d(180) == pytest.approx(-10.87, abs=TO_PRINT_D)
    assert lens("-10.25 -2.50 x040").power_along_d(180) == pytest.approx(-11.28, abs=TO_PRINT_D)


PERCENT_AT = dict(
    zip(
        range(0, 95, 5),
        [0, 1, 3, 7, 12, 18, 25, 33, 41, 50, 59, 67, 75, 82, 88, 93, 97, 99, 100],
        strict=True,
    )
)


@pytest.mark.parametrize(("degrees", "percent"), PERCENT_AT.items())
def test_printed_percentage_of_the_cylinder(degrees: int, percent: int) -> None:
    """ABO-NCLE review, oblique cylinders (aboc.8m.com/12.html): share of the cylinder at an angle from its axis, for
    the lens 0 to 90 degrees away either way."""
    for axis, meridian in ((90, 90 + degrees), (90, 90 - degrees)):
        power = SpheroCylinder(0.0, 1.0, axis).power_along_d(meridian or 180)
        assert power * 100.0 == pytest.approx(percent, abs=0.5 + 1e-9)


@pytest.mark.parametrize(
    "meridians", [(180, 60, 75), (180, 30, 60), (30, 60, 75), (180, 30, 60, 75)], ids=str
)
def test_burek_lens_from_its_printed_powers(meridians: tuple[int, ...]) -> None:
    """The inverse of Burek's example: any three of its printed powers give +3.00 -4.00 x 30 back."""
    printed = {180: 2.00, 30: 3.00, 60: 2.00, 75: 1.00}

    solution = solve_readings([MeridianReading(angle, printed[angle]) for angle in meridians])

    assert solution.status == "solved"
    assert solution.net == lens("+3.00 -4.00 x30")
    assert solution.residual_d is not None
    assert solution.residual_d < 1e-9


def test_equally_spaced_meridians() -> None:
    """Worthey, "Simplified analysis of meridional refraction data", Am J Optom Physiol Opt 1977;54 (abstract seen): three
    meridians 60 degrees apart suffice. Burek's lens: 2.00 along 180 and 60 as printed; along 120, at right angles to its
    axis, sphere and cylinder act, -1.00."""
    readings = [MeridianReading(180, 2.00), MeridianReading(60, 2.00), MeridianReading(120, -1.00)]

    assert solve_readings(readings).net == lens("+3.00 -4.00 x30")
