"""How many lenses it takes: bracketing, the same looks read by the belief, and looks that were advised.

    python -m tests.optics.belief_lenses [EYES] > the table of docs/belief.md

Every look counts as one lens. 0.3 D noise a look, which is what the looks are read by. An eye counts as found when the powers in its
two principal meridians, as the streaks lay, are within 0.25 D of the truth. The working distance is taken as known.
"""

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import numpy as np

from tests.optics.belief_exams import Examiner, bracket, off_d, random_eye
from tests.optics.simulated_exams import TrueEye, folded
from voicelog.optics import ErrorModel, Look, PowerVector, SpheroCylinder, round_refraction, solve_looks
from voicelog.optics.belief import (
    WIDE_PRIOR,
    Enough,
    InPlace,
    LookModel,
    Prior,
    Technique,
    advise,
    believe,
    spectacles_prior,
)

NOISE_D = 0.3
COUNTS = (8, 12, 16, 18, 20, 22, 25, 28, 31, 35)
MOST = 40
ERRORS = ErrorModel(neutrality_sd_d=NOISE_D)


@dataclass
class Course:
    """One eye: what was held of it after each look, and the looks until the advice said enough (None: it never did)."""

    eye: TrueEye
    meridians_deg: tuple[float, float]
    estimates: dict[int, PowerVector] = field(default_factory=dict)
    enough: int | None = None
    lens_changes: int = 0
    slips: Sequence[int] = ()
    named: Sequence[int] = ()

    def found(self, count: int) -> bool:
        """Whether both meridians are within a quarter after so many looks (or after all there were)."""
        known = [each for each in self.estimates if each <= count]
        if not known:
            return False
        vector = self.estimates[max(known)]
        return all(abs(off_d(self.eye, vector, meridian)) <= 0.25 for meridian in self.meridians_deg)


def examiner_of(
    seed: int, *, speed_words: bool = False, lapse: float = 0.0, slip_at: int | None = None
) -> Examiner:
    """The examiner and the eye of a seed; the eye is the same whatever the habits."""
    rng = np.random.default_rng([seed, 17])
    eye = random_eye(rng)
    return Examiner(eye, rng, noise_d=NOISE_D, speed_words=speed_words, lapse=lapse, slip_at=slip_at)


def advised(
    examiner: Examiner, *, most: int = MOST, technique: Technique = "spheres", prior: Prior = WIDE_PRIOR
) -> Course:
    """One eye examined by following the advice until it says enough, or for `most` looks."""
    model = LookModel(ERRORS, all_told=True, speed_words=examiner.speed_words)
    streak = examiner.principal_streak_deg()
    course = Course(examiner.eye, (folded(streak + 90.0), streak))
    in_place = InPlace(SpheroCylinder(0.0), streak)
    belief = believe([], model=model, prior=prior)
    while len(examiner.seen) < most:
        told = advise(belief, in_place, technique=technique)
        if isinstance(told, Enough):
            course.enough = len(examiner.seen)
            break
        # Before the first look the advice names no band: the examiner finds it.
        in_place = InPlace(told.lens, told.streak_deg if examiner.seen else streak)
        examiner.look(in_place.lens, in_place.streak_deg or 180.0, aligned=True)
        belief = believe(examiner.seen, model=model, prior=prior)
        course.estimates[len(examiner.seen)] = belief.estimate
    course.lens_changes, course.slips, course.named = examiner.lens_changes, examiner.slips, belief.slips
    return course


def bracketed(examiner: Examiner, most: int = MOST) -> tuple[Course, Course]:
    """Halving in one meridian, in the other, and again within 0.75 D of what was found, until there are `most` looks.

    First as it is worked out by hand: the mean of the lenses called neutral (of the last two where none was) in each
    meridian. Second the same looks read by the belief.
    """
    model = LookModel(ERRORS, all_told=True, speed_words=examiner.speed_words)
    streak = examiner.principal_streak_deg()
    by_hand = Course(examiner.eye, (folded(streak + 90.0), streak))
    read = Course(examiner.eye, by_hand.meridians_deg)
    found: dict[float, list[float]] = {folded(streak + 90.0): [], streak: []}
    while len(examiner.seen) < most:
        for meridian, neutrals in found.items():
            around = None if not neutrals else round(4.0 * sum(neutrals) / len(neutrals)) / 4.0
            neutrals.append(
                bracket(examiner, SpheroCylinder, folded(meridian + 90.0), aligned=True, around_d=around)
            )
            known = [
                Look(each, sum(values) / len(values), "neutral") for each, values in found.items() if values
            ]
            vector = solve_looks(known).vector or PowerVector(known[0].power_d, 0.0, 0.0)
            by_hand.estimates[len(examiner.seen)] = vector
    for count in COUNTS:
        read.estimates[count] = believe(examiner.seen[:count], model=model).estimate
    return by_hand, read


def spectacles_of(eye: TrueEye, seed: int) -> Prior:
    """Spectacles worn that are off by 0.5 D (standard deviation) in M and by 0.25 D in J0 and J45."""
    off = np.random.default_rng([seed, 18]).normal(0.0, [0.5, 0.25, 0.25])
    worn = round_refraction(eye.vector + PowerVector(*off.tolist()), 0.25, 5)
    return spectacles_prior(worn)


def found_after(courses: Sequence[Course]) -> list[float]:
    """Share of eyes found after each of COUNTS looks, per cent."""
    return [100.0 * sum(course.found(count) for course in courses) / len(courses) for count in COUNTS]


def rows(eyes: int) -> Iterator[tuple[str, list[float], Sequence[Course]]]:
    """What each way comes to: its name, the share found after each count, and its courses."""
    both = [bracketed(examiner_of(seed)) for seed in range(eyes)]
    for name, courses in zip(
        ("bracketing, by hand", "the same looks, read by the belief"), zip(*both, strict=True), strict=True
    ):
        yield name, found_after(courses), courses
    for name, speeds in (("advice", False), ("advice, speed words", True)):
        guided = [advised(examiner_of(seed, speed_words=speeds)) for seed in range(eyes)]
        yield name, found_after(guided), guided
    helped = []
    for seed in range(eyes):
        examiner = examiner_of(seed)
        helped.append(advised(examiner, prior=spectacles_of(examiner.eye, seed)))
    yield "advice, spectacles known", found_after(helped), helped


def main(eyes: int) -> None:
    """Print the table in the form of docs/belief.md."""
    print(f"| {eyes} eyes | " + " | ".join(map(str, COUNTS)) + " | enough after | found then |")
    print("|---|" + "--:|" * (len(COUNTS) + 2))
    for name, shares, courses in rows(eyes):
        ends = [course.enough for course in courses if course.enough is not None]
        end = (
            f"{np.mean(ends):.1f} looks, {np.mean([c.lens_changes for c in courses]):.1f} lenses"
            if ends
            else ""
        )
        last = f"{100 * np.mean([c.found(MOST) for c in courses]):.1f} %" if ends else ""
        print(
            f"| {name} | " + " | ".join(f"{share:.0f}" for share in shares) + f" | {end} | {last} |",
            flush=True,
        )


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
