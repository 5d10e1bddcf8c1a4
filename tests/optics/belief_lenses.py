"""How many looks and lenses it takes: bracketing, the same looks read by the belief, and looks that were advised.

    python -m tests.optics.belief_lenses [EYES] [PLOT.svg] > the tables of docs/belief.md

0.3 D noise a look, which is what the looks are read by. A lens that stays before the eye for several looks is one lens. An eye
counts as found when the powers in its two principal meridians, as the streaks lay, are within 0.25 D of the truth. The working
distance is taken as known.
"""

import itertools
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from tests.optics.belief_exams import Examiner, bracket, off_d, random_eye
from tests.optics.belief_plot import drawn
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
COUNTS = (8, 12, 16, 18, 20, 22, 24, 26, 28, 31, 35)
LENSES = (6, 8, 10, 12, 14, 16, 18, 20, 22, 26, 30)
MOST = 40
FIRST_SEED = 40_000
"""Those from 20,000 on were for choosing; these were looked at when nothing was to be chosen any more."""
ERRORS = ErrorModel(neutrality_sd_d=NOISE_D)


@dataclass
class Course:
    """One eye: what was held of it after each look, and the looks until the advice said enough (None: it never did)."""

    eye: TrueEye
    meridians_deg: tuple[float, float]
    estimates: dict[int, PowerVector] = field(default_factory=dict)
    enough: int | None = None
    lens_changes: int = 0
    lenses: dict[int, int] = field(default_factory=dict)
    """Lenses put before the eye until each look."""
    looks: Sequence[Look] = ()
    slips: Sequence[int] = ()
    named: Sequence[int] = ()
    untrue: bool = False
    """Whether a slip said what is not true by more than half a dioptre."""

    def found(self, count: int) -> bool:
        """Whether both meridians are within a quarter after so many looks (or after all there were)."""
        known = [each for each in self.estimates if each <= count]
        if not known:
            return False
        return self._is_right(self.estimates[max(known)])

    def found_by_lenses(self, count: int) -> bool:
        """The same after so many lenses, with all looks through the last of them."""
        return self.found(max((look for look, lenses in self.lenses.items() if lenses <= count), default=0))

    def _is_right(self, vector: PowerVector) -> bool:
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
        course.lenses[len(examiner.seen)] = examiner.lens_changes
    course.lens_changes, course.slips, course.named = examiner.lens_changes, examiner.slips, belief.slips
    course.looks = [glance.look for glance in examiner.seen]
    course.untrue = any(is_untrue(examiner.eye, examiner.seen[slip].look) for slip in examiner.slips)
    return course


def is_untrue(eye: TrueEye, look: Look, by_d: float = 0.5) -> bool:
    """Whether what was said of a lens is more than `by_d` (dioptres) from being true."""
    lacks = eye.power_d(look.meridian_deg) - look.power_d
    return {"neutral": abs(lacks), "with": -lacks, "against": lacks}[look.motion] > by_d


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
    by_hand.lenses = read.lenses = lenses_until(examiner)
    wanted = {max((n for n, lenses in read.lenses.items() if lenses <= count), default=1) for count in LENSES}
    for count in (*COUNTS, *wanted):
        read.estimates[count] = believe(examiner.seen[:count], model=model).estimate
    return by_hand, read


def lenses_until(examiner: Examiner) -> dict[int, int]:
    """Lenses put before the eye until each look, worked out from the powers: spheres alone, one after the other."""
    powers = [glance.look.power_d for glance in examiner.seen]
    changed = [True, *(a != b for a, b in itertools.pairwise(powers))]
    return dict(enumerate(itertools.accumulate(map(int, changed)), start=1))


def known_eye(examiner: Examiner, most: int = MOST) -> Course:
    """What no advice can better: an examiner who knows the eye, and looks in turn through the lens nearest to neutral.

    Near neutral a look tells most; the reader knows as little as ever.
    """
    model = LookModel(ERRORS, all_told=True, speed_words=examiner.speed_words)
    streak = examiner.principal_streak_deg()
    course = Course(examiner.eye, (folded(streak + 90.0), streak))
    for number in range(most):
        meridian = course.meridians_deg[number % 2]
        power = round(4.0 * examiner.eye.power_d(meridian)) / 4.0
        examiner.look(SpheroCylinder(power), folded(meridian + 90.0), aligned=True)
        if number + 1 in COUNTS:
            course.estimates[number + 1] = believe(examiner.seen, model=model).estimate
    return course


def spectacles_of(eye: TrueEye, seed: int) -> Prior:
    """Spectacles worn that are off by 0.5 D (standard deviation) in M and by 0.25 D in J0 and J45."""
    off = np.random.default_rng([seed, 18]).normal(0.0, [0.5, 0.25, 0.25])
    worn = round_refraction(eye.vector + PowerVector(*off.tolist()), 0.25, 5)
    return spectacles_prior(worn)


def shares_found(courses: Sequence[Course], counts: Sequence[int], *, lenses: bool) -> list[float]:
    """Share of eyes found after each count of looks or of lenses, per cent."""
    found = Course.found_by_lenses if lenses else Course.found
    return [100.0 * sum(found(course, count) for course in courses) / len(courses) for count in counts]


def ways(eyes: int) -> Iterator[tuple[str, Sequence[Course]]]:
    """Each way with its name and its courses."""
    seeds = range(FIRST_SEED, FIRST_SEED + eyes)
    both = [bracketed(examiner_of(seed)) for seed in seeds]
    yield "bracketing, by hand", [by_hand for by_hand, _ in both]
    yield "the same looks, read by the belief", [read for _, read in both]
    for name, speeds in (("advice", False), ("advice, speed words", True)):
        yield name, [advised(examiner_of(seed, speed_words=speeds)) for seed in seeds]
    helped = []
    for seed in seeds:
        examiner = examiner_of(seed)
        helped.append(advised(examiner, prior=spectacles_of(examiner.eye, seed)))
    yield "advice, spectacles known", helped
    for name, speeds in (("the eye known", False), ("the eye known, speed words", True)):
        yield name, [known_eye(examiner_of(seed, speed_words=speeds)) for seed in seeds]


def tables(eyes: int) -> tuple[list[str], dict[str, list[float]], dict[str, list[float]]]:
    """The two tables as lines, and what is in them: by looks, by lenses."""
    by_looks: dict[str, list[float]] = {}
    by_lenses: dict[str, list[float]] = {}
    ends: dict[str, str] = {}
    for name, courses in ways(eyes):
        by_looks[name] = shares_found(courses, COUNTS, lenses=False)
        if courses[0].lenses:
            by_lenses[name] = shares_found(courses, LENSES, lenses=True)
        stopped = [course for course in courses if course.enough is not None]
        if stopped:
            ends[name] = (
                f"{np.mean([course.enough for course in stopped]):.1f} looks, "
                f"{np.mean([course.lens_changes for course in courses]):.1f} lenses | "
                f"{100 * np.mean([course.found(MOST) for course in courses]):.1f} %"
            )
        print(name, "done", file=sys.stderr, flush=True)

    def row(name: str, shares: Sequence[float], end: str) -> str:
        return f"| {name} | " + " | ".join(f"{share:.0f}" for share in shares) + f" |{end}"

    lines = [f"| {eyes} eyes, looks | " + " | ".join(map(str, COUNTS)) + " | enough after | found then |"]
    lines.append("|---|" + "--:|" * (len(COUNTS) + 2))
    lines += [row(name, shares, f" {ends.get(name, ' | ')} |") for name, shares in by_looks.items()]
    lines += ["", f"| {eyes} eyes, lenses | " + " | ".join(map(str, LENSES)) + " |"]
    lines.append("|---|" + "--:|" * len(LENSES))
    lines += [row(name, shares, "") for name, shares in by_lenses.items()]
    return lines, by_looks, by_lenses


def main(eyes: int, plot: Path | None) -> None:
    """Print the tables in the form of docs/belief.md, and draw them."""
    lines, by_looks, by_lenses = tables(eyes)
    print("\n".join(lines))
    if plot is not None:
        pictures = (("looks", COUNTS, by_looks), ("lenses put before the eye", LENSES, by_lenses))
        plot.write_text(drawn(pictures, "eyes with both meridians within 0.25 D, per cent"), encoding="utf-8")


if __name__ == "__main__":
    main(
        int(sys.argv[1]) if len(sys.argv) > 1 else 500,
        Path(sys.argv[2]) if len(sys.argv) > 2 else None,
    )
