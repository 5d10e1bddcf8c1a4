"""Prisms of decentred lenses, from print: the power matrix times the distance from the optical centre (Long, "A matrix
formalism for decentration problems", Am J Optom Physiol Opt 1976;53:27-33), which for one meridian is Prentice's rule.

The program works out no prisms; the printed answers hold its power matrix and its power along a meridian to numbers of
others, with their oblique cylinders.
"""

import numpy as np
import pytest

from tests.published.published_checks import lens

TO_PRINT_PD = 0.05 + 1e-9  # one printed decimal


@pytest.mark.parametrize(
    ("given", "right_mm", "up_mm", "printed_pd"),
    [
        # National Federation of Opticianry Schools, Optics 11, answers 13 a (nfos.org/degree/opt11/answers_13a.html),
        # problems 1 to 4: distance of the optical centre from the pupil.
        ("+8.50", 0, 2, 1.7),
        ("-3.25", 5, 0, 1.6),
        ("+7.75", 0, -4, 3.1),
        ("+5.00 -1.50 x090", 0, 8, 4.0),
        # Mock examination 13, station 7 (mrcophth.com): +4.00 decentred 5 mm for 2 prism dioptres.
        ("+4.00", 5, 0, 2.0),
        # A page on Prentice's rule (example): +6.00 and 5 mm, 3 prism dioptres.
        ("+6.00", 5, 0, 3.0),
    ],
)
def test_printed_prisms(given: str, right_mm: float, up_mm: float, printed_pd: float) -> None:
    prism = lens(given).vector.matrix @ np.array([right_mm, up_mm]) / 10.0

    assert np.linalg.norm(prism) == pytest.approx(printed_pd, abs=TO_PRINT_PD)


def test_printed_imbalance_of_two_lenses() -> None:
    """Flash cards on Prentice's rule (brainscape.com 14574219): +4.50 +0.50 x180 and +2.00 +0.25 x090, 10 mm down: 3.00."""
    right, left = (
        lens(each).vector.matrix @ np.array([0.0, 1.0]) for each in ("+4.50 +0.50 x180", "+2.00 +0.25 x090")
    )

    assert (right - left)[1] == pytest.approx(3.00)


@pytest.mark.parametrize(
    ("given", "at_90", "at_180"),
    [
        # The same cards.
        ("+3.50 -2.00 x045", 2.50, 2.50),
        ("+0.50 -2.00 x030", -1.00, 0.00),
        ("-6.00 -3.00 x150", -8.25, -6.75),
    ],
)
def test_printed_powers_along_the_matrix(given: str, at_90: float, at_180: float) -> None:
    matrix = lens(given).vector.matrix

    assert (matrix[1][1], matrix[0][0]) == pytest.approx((at_90, at_180))
    assert (lens(given).power_along_d(90), lens(given).power_along_d(180)) == pytest.approx((at_90, at_180))
