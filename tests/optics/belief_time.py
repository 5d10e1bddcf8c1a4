"""How long a belief, its slips and the next look take: looks as they come, in exams that follow the advice.

    python -m tests.optics.belief_time [EXAMS]

Printed in milliseconds, by the clock and by the processor: the mean, the median, what 95 per cent are within, and the most.
"""

import sys
import time

import numpy as np

from tests.optics.belief_lenses import ERRORS, examiner_of
from voicelog.optics import SpheroCylinder
from voicelog.optics.belief import Enough, InPlace, LookModel, advise, believe

FIRST_SEED = 80_000
MOST_LOOKS = 40


def main(exams: int) -> None:
    """Follow the advice in so many exams and print the times."""
    times: dict[str, list[tuple[float, float]]] = {"belief": [], "its slips": [], "next look": []}
    for seed in range(FIRST_SEED, FIRST_SEED + exams):
        examiner = examiner_of(seed, speed_words=seed % 2 == 0)
        model = LookModel(ERRORS, all_told=True, speed_words=examiner.speed_words)
        streak = examiner.principal_streak_deg()
        in_place = InPlace(SpheroCylinder(0.0), streak)
        while len(examiner.seen) < MOST_LOOKS:
            at = [_now()]
            belief = believe(examiner.seen, model=model)
            _ = belief.estimate, belief.uncertainty
            at.append(_now())
            _ = belief.slips
            at.append(_now())
            told = advise(belief, in_place)
            at.append(_now())
            for name, begun, ended in zip(times, at, at[1:], strict=False):
                times[name].append((ended[0] - begun[0], ended[1] - begun[1]))
            if isinstance(told, Enough):
                break
            in_place = InPlace(told.lens, told.streak_deg if examiner.seen else streak)
            examiner.look(in_place.lens, in_place.streak_deg or 180.0, aligned=True)
    for name, pairs in times.items():
        for clock, column in (("clock", 0), ("processor", 1)):
            each = 1000.0 * np.array(pairs)[:, column]
            print(
                f"{name}, {clock}: mean {each.mean():.1f}, median {np.median(each):.1f}, 95 % within "
                f"{np.quantile(each, 0.95):.1f}, most {each.max():.1f} ms ({len(each)} looks of {exams} exams)"
            )


def _now() -> tuple[float, float]:
    return time.perf_counter(), time.process_time()


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)
