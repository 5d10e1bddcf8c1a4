"""Near and dynamic retinoscopy: printed examples and printed adjustments."""

import pytest

from tests.published.published_checks import lens
from voicelog.exam.guidance import dark_adjustment
from voicelog.optics import dark_refraction, nott_lag_d


@pytest.mark.parametrize(
    ("target_cm", "neutral_cm", "printed_d"),
    [
        # Practice question on Nott retinoscopy (advbinocularvision2practicequestions.examzify.com): neutral at 50 cm
        # "corresponds to 2.0 D, signaling a lag of about 0.5 D" of the 2.50 D at 40 cm.
        (40, 50, 0.5),
        # Coloma Torregrosa, Pascual & de Fez, "Calculation of Nott dynamic retinoscopy" (abstract, handle 10045/53546):
        # the inverse of the distance of neutral is subtracted from 2.50 D; neutral at the target's 40 cm leaves nothing.
        (40, 40, 0.0),
    ],
)
def test_nott(target_cm: int, neutral_cm: int, printed_d: float) -> None:
    assert nott_lag_d(target_cm / 100, neutral_cm / 100) == pytest.approx(printed_d)


# Ashendorf, laboratory sheet on Mohindra's near retinoscopy (scribd 342738246), right and left eye.
@pytest.mark.parametrize(("gross", "net"), [("+2.25 -0.50 x80", "+1.00 -0.50 x80"), ("+2.75", "+1.50")])
def test_the_adult_adjustment_gives_the_printed_refraction(gross: str, net: str) -> None:
    adult = dark_adjustment("adult")

    assert dark_refraction(lens(gross), adult.taken_off_d) == lens(net)


def test_adjustments_for_infants_and_children_are_those_printed() -> None:
    """Saunders & Westall 1992, abstract: agreement with drops "is improved by changing the suggested adjustment factor
    from 1.25 to 1.00 D for children and to 0.75 D for infants"; infants are less than 2 years there."""
    infant, child = dark_adjustment("infant"), dark_adjustment("child")

    assert (infant.taken_off_d, infant.until_years) == (0.75, 2)
    assert (child.taken_off_d, child.from_years) == (1.00, 2)
