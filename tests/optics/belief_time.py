"""How long a belief and the next look take: looks as they come, in exams that follow the advice.

    python -m tests.optics.belief_time [EXAMS]

Printed in milliseconds, by the clock and by the processor: the mean, what 95 per cent are within, and the most.
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
    believed: list[tuple[float, float]] = []
    advised: list[tuple[float, float]] = []
    for seed in range(FIRST_SEED, FIRST_SEED + exams):
        examiner = examiner_of(seed, speed_words=seed % 2 == 0)
        model = LookModel(ERRORS, all_told=True, speed_words=examiner.speed_words)
        streak = examiner.principal_streak_deg()
        in_place = InPlace(SpheroCylinder(0.0), streak)
        while len(examiner.seen) < MOST_LOOKS:
            begun = time.perf_counter(), time.process_time()
            belief = believe(examiner.seen, model=model)
            _ = belief.estimate, belief.uncertainty, belief.slips
            between = time.perf_counter(), time.process_time()
            told = advise(belief, in_place)
            ended = time.perf_counter(), time.process_time()
            believed.append((between[0] - begun[0], between[1] - begun[1]))
            advised.append((ended[0] - between[0], ended[1] - between[1]))
            if isinstance(told, Enough):
                break
            in_place = InPlace(told.lens, told.streak_deg if examiner.seen else streak)
            examiner.look(in_place.lens, in_place.streak_deg or 180.0, aligned=True)
    for name, times in (("belief", believed), ("next look", advised)):
        for clock, column in (("clock", 0), ("processor", 1)):
            each = 1000.0 * np.array(times)[:, column]
            print(
                f"{name}, {clock}: mean {each.mean():.1f}, 95 % within {np.quantile(each, 0.95):.1f}, most {each.max():.1f} "
                f"ms ({len(each)} looks of {exams} exams)"
            )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)
