"""How far examiners differ, from print, and in which unit it is printed."""

import math

import numpy as np
import pytest

from tests.published.published_checks import lens
from voicelog.exam.guidance import limit
from voicelog.optics import SpheroCylinder, difference


def vector_dioptric_distance_d(one: SpheroCylinder, two: SpheroCylinder) -> float:
    """Length of the difference of two power matrices (Long 1976; Harris, Ophthalmic Physiol Opt 1991;11:130, the
    representation of power in three dimensions; both from memory)."""
    return float(np.linalg.norm(one.vector.matrix - two.vector.matrix))


def test_the_vector_dioptric_distance_is_longer_than_the_power_vector() -> None:
    """Dobson, Harvey, Miller & Clifford-Donaldson, Optom Vis Sci 2008;85:512-519 (abstract read): anisometropia from a
    difference of 1.00 D on in M, and "for a second type of vector notation" from a vector dioptric difference of 1.41 on.

    The authors of the reproducibility below thus use the length in which a dioptre of sphere counts 1.41. In that of the
    power vector it counts 1; the ratio is the square root of 2 for every lens, cylinders included."""
    assert vector_dioptric_distance_d(SpheroCylinder(1.0), SpheroCylinder(0.0)) == pytest.approx(
        1.41, abs=0.005
    )
    assert difference(SpheroCylinder(1.0), SpheroCylinder(0.0)).blur_strength_d == 1.0
    for text in ("+0.50 -1.00 x45", "-2.00 -1.00 x30", "+3.00 -4.00 x165"):
        one, two = lens(text), lens("-0.50 -0.75 x80")
        ratio = vector_dioptric_distance_d(one, two) / difference(one, two).blur_strength_d
        assert ratio == pytest.approx(math.sqrt(2.0))


def test_the_limits_are_the_published_ones() -> None:
    """Harvey et al., Optom Vis Sci 2000;77:140-149 (abstract read): mean 0.41 D, standard deviation 0.18 D, "vector
    dioptric distance"; the limits are lengths of power vectors."""
    assert limit("slip_difference_d") == pytest.approx(0.41 / math.sqrt(2.0), abs=0.005)
    assert limit("usual_difference_d") == pytest.approx((0.41 + 2 * 0.18) / math.sqrt(2.0), abs=0.005)
