"""What may stand in a trial frame at once, and advice that keeps to it for strong eyes too.

How lenses apart act is worked out afresh from the formula for two thin lenses (F1 + F2 - d F1 F2) / (1 - d F1), F1 in front.
"""

import time
from itertools import pairwise

import numpy as np
import pytest

from tests.optics.belief_exams import Examiner
from tests.optics.simulated_exams import TrueEye, folded
from voicelog.exam.guidance import limit
from voicelog.optics import COMMON_LENS_SET, LensSet, LensSetError, SpheroCylinder, lenses_for_power
from voicelog.optics.belief import Enough, InPlace, LookModel, Technique, advise, believe
from voicelog.optics.trial_frame import CELL_GAP_M, MOST_STACKED, stacked

HALVES = LensSet(spheres_d=(0.5, 1.0, 2.0, 4.0, 8.0, 16.0), cylinders_d=(0.5, 1.0, 2.0, 4.0))
TECHNIQUES: tuple[Technique, ...] = ("spheres", "sphere-cylinder", "cylinders")


def apart_d(front_d: float, rear_d: float) -> float:
    """How far two lenses in neighbouring cells are from their sum, dioptres."""
    d = CELL_GAP_M
    return abs((front_d + rear_d - d * front_d * rear_d) / (1.0 - d * front_d) - front_d - rear_d)


@pytest.mark.parametrize(
    ("sphere_d", "cylinder_d", "counts"),
    [
        (0.0, 0.0, (0, 0)),
        (-20.0, 0.0, (1, 0)),
        (8.25, 0.0, (2, 0)),
        (8.0, -5.5, (1, 1)),
        (-9.25, -2.25, (2, 2)),
    ],
)
def test_lenses_that_may_stand_together(sphere_d: float, cylinder_d: float, counts: tuple[int, int]) -> None:
    assert stacked(sphere_d, cylinder_d, COMMON_LENS_SET) == counts


@pytest.mark.parametrize(
    ("sphere_d", "cylinder_d", "why"),
    [
        (8.0, -6.0, "act as another power: 0.12 D off"),
        (38.0, 0.0, "act as another power: 1.21 D off"),
        (-9.375, -2.25, "take more than 4 lenses"),
        (0.3, 0.0, "cannot be made"),
    ],
)
def test_lenses_that_may_not(sphere_d: float, cylinder_d: float, why: str) -> None:
    with pytest.raises(LensSetError, match=why):
        stacked(sphere_d, cylinder_d, COMMON_LENS_SET)


@pytest.mark.parametrize("cylinder_d", [-6.0, -5.5, -3.0, 3.0, 5.0, 5.5, 6.0])
def test_a_cylinder_before_a_strong_sphere_is_judged_by_the_formula_of_two_lenses(cylinder_d: float) -> None:
    is_safe = apart_d(cylinder_d, 10.0) <= 0.12
    try:
        stacked(10.0, cylinder_d, COMMON_LENS_SET)
    except LensSetError:
        assert not is_safe
    else:
        assert is_safe


def test_the_cells_are_as_far_apart_as_the_log_holds_them() -> None:
    assert pytest.approx(limit("cell_gap_mm") / 1000.0) == CELL_GAP_M


@pytest.mark.parametrize("technique", TECHNIQUES)
@pytest.mark.parametrize("lens_set", [COMMON_LENS_SET, HALVES], ids=["usual", "halves"])
def test_advice_keeps_to_the_set_and_to_the_frame(lens_set: LensSet, technique: Technique) -> None:
    """Two strong eyes, followed for 8 looks; each answer within 150 ms of processor time, the belief's own included."""
    slowest = 0.0
    for sphere_d, cylinder_d in ((-17.25, -6.75), (8.25, -5.75)):
        examiner = Examiner(TrueEye(sphere_d, cylinder_d, 170.0), np.random.default_rng(4))
        streak = examiner.principal_streak_deg()
        in_place = InPlace(SpheroCylinder(0.0), streak)
        for _ in range(8):
            began = time.process_time()
            told = advise(
                believe(examiner.seen, model=LookModel(all_told=True)),
                in_place,
                lens_set=lens_set,
                technique=technique,
            )
            slowest = max(slowest, time.process_time() - began)
            if isinstance(told, Enough):
                break
            sphere = lenses_for_power(told.lens.sphere_d, lens_set)
            cylinder = lenses_for_power(told.lens.cylinder_d, lens_set, cylinder=True)
            assert len(sphere) + len(cylinder) <= MOST_STACKED
            lenses = sorted((*sphere, *cylinder), key=abs)
            assert sum(apart_d(front, rear) for front, rear in pairwise(lenses)) <= 0.15
            in_place = InPlace(told.lens, told.streak_deg if examiner.seen else streak)
            examiner.look(in_place.lens, in_place.streak_deg or folded(180.0), aligned=True)

    assert slowest < 0.15
