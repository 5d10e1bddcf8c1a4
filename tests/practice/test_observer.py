"""Motion told from the pictures alone, by an observer who knows nothing of the optics (observer.py)."""

import numpy as np
import pytest

from tests.practice.observer import observed
from tests.practice.sights import random_sight
from voicelog.practice.frames import HALF_SEEN, SWEEP_MM, VIEW_MM, beam_mm, looks

SIZE_PX = 48
PICTURES = 41  # 25 a second, for a sweep of 1.6 s


def calls(count: int, first: int, furthest_d: float) -> list[tuple[str, str, float]]:
    """What the optics say, what the observer says, and how many times the streak's speed it is."""
    found: list[tuple[str, str, float]] = []
    for seed in range(first, first + count):
        sight = random_sight(seed, SIZE_PX, furthest_d)
        seen = observed(sight.pictures(PICTURES, seed))
        found.append((sight.reflex.motion, seen.motion, sight.reflex.speed))
    return found


def right_outside_the_zone(found: list[tuple[str, str, float]]) -> float:
    """Share of right calls among eyes that are not neutral."""
    moving = [(true, seen) for true, seen, _ in found if true != "neutral"]
    return float(np.mean([true == seen for true, seen in moving]))


def test_with_and_against_are_told_from_pictures() -> None:
    assert right_outside_the_zone(calls(60, 0, 6.0)) >= 0.98


@pytest.mark.sweep
def test_with_and_against_are_told_from_pictures_of_a_thousand_eyes() -> None:
    """Any distance within 6 D, a quarter of them through dull media."""
    assert right_outside_the_zone(calls(1000, 10_000, 6.0)) >= 0.98


def test_well_within_the_zone_nothing_moves() -> None:
    """At twice the speed at which neutral begins and faster, so that aberration cannot take it out of the zone."""
    found = [seen for _, seen, speed in calls(24, 500, 0.08) if speed > 16.0]

    assert len(found) > 14
    assert found.count("neutral") / len(found) >= 0.95


def test_the_observer_follows_the_pictures() -> None:
    """Time run backwards leaves the motion; a pupil that is turned round under the same streak turns it over."""
    sight = random_sight(3, SIZE_PX)
    pictures = sight.pictures(PICTURES, 3)
    rows, columns = np.indices((SIZE_PX, SIZE_PX)) - (SIZE_PX - 1) / 2.0
    pupil = np.hypot(rows, columns) < sight.reflex.pupil_mm / 2.0 * SIZE_PX / (2.0 * VIEW_MM)
    turned = np.where(pupil[..., None], pictures[:, ::-1, ::-1], pictures)

    motions = {"with", "against"}
    assert {observed(pictures).motion} == {observed(pictures[::-1]).motion} < motions
    assert {observed(pictures).motion, observed(turned).motion} == motions


def test_the_streak_goes_there_and_back_and_bright_light_looks_brightest() -> None:
    assert [beam_mm(phase) for phase in (0.0, 0.25, 0.75)] == pytest.approx([0.0, SWEEP_MM, -SWEEP_MM])
    seen = looks(np.array([0.0, HALF_SEEN / 10, HALF_SEEN, 1.0, 3.0]))
    assert seen[0] == 0.0
    assert seen[3] == seen[4] == 1.0
    assert np.all(np.diff(seen[:4]) > 0.0)
