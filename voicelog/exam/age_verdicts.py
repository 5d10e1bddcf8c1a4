"""What an exam comes to against the limits of a screening guideline at an age. Pure; limits and sources are data.

A limit that is not exceeded is no finding of health, and an eye without a result is held against nothing.
"""

from dataclasses import dataclass
from typing import Final, Literal, get_args

from voicelog.exam.age_limits import noted_age
from voicelog.exam.comparisons import REFINED, refractions
from voicelog.exam.entries import AgeEntry
from voicelog.exam.guidance import AgeLimit, Guideline, data
from voicelog.exam.remarks import above_age_limits, best_refractions
from voicelog.exam.state import EYES, ExamState, EyeName
from voicelog.optics import SpheroCylinder

GUIDELINES: Final[tuple[Guideline, ...]] = get_args(Guideline)
Outcome = Literal[
    "above", "perhaps above", "not above", "incomplete", "no limit at this age", "age not known"
]
"""In the order of what is told first. "perhaps above": at some of the months that an age in years covers."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """One guideline. `above` are the values above its limits, in words, also of an exam that is incomplete."""

    guideline: Guideline
    outcome: Outcome
    above: tuple[str, ...] = ()


def verdict(state: ExamState, guideline: Guideline, listed: AgeEntry | None = None) -> Verdict:
    """The exam against one guideline, at the age that was said in it, otherwise at the one that was `listed`."""
    age = noted_age(state) or listed
    if age is None:
        return Verdict(guideline, "age not known")
    if not any(_meets(each, age) for each in limits_of(guideline)):
        return Verdict(guideline, "no limit at this age")
    found = [
        (f"{about} eye {each.finding}" if about else each.finding, each.certain)
        for about, each in above_age_limits(state, age)
        if each.limit.guideline == guideline
    ]
    if found:
        certain = any(certain for _, certain in found)
        return Verdict(
            guideline, "above" if certain else "perhaps above", tuple(finding for finding, _ in found)
        )
    return Verdict(guideline, "not above" if is_complete(state) else "incomplete")


def is_complete(state: ExamState) -> bool:
    """Whether each eye has a result that nothing contradicts."""
    return len(results_of(state)) == len(EYES)


def results_of(state: ExamState) -> dict[EyeName, SpheroCylinder]:
    """Of each eye the refined result, otherwise retinoscopy's, unless its last pass is open or contradicts itself."""
    refined = refractions(state, REFINED)
    return {
        name: lens
        for name, lens in best_refractions(state).items()
        if name in refined or state.eyes[name].status == "solved"
    }


def limits_of(guideline: Guideline) -> tuple[AgeLimit, ...]:
    """The limits of a guideline, in the order of the file."""
    return tuple(each for each in data().age_limit if each.guideline == guideline)


def sources_of(guideline: Guideline) -> tuple[str, ...]:
    """Where its limits come from, each source once."""
    return tuple(dict.fromkeys(each.source for each in limits_of(guideline)))


def _meets(limit: AgeLimit, age: AgeEntry) -> bool:
    least, most = age.between_months
    return any(each.from_months <= most and least < each.below_months for each in limit.bands)
