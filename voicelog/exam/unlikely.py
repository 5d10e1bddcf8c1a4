"""What makes a heard entry worth a question although the recogniser was sure: the exam's own knowledge.

It may only make the log ask; it never changes a value, and typed entries are not asked about.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from voicelog.exam.entries import exact_d
from voicelog.exam.entries.distance import GREATEST_CM, LEAST_CM
from voicelog.exam.gaps import angles, powers
from voicelog.exam.solving import misfit
from voicelog.exam.state import ExamState
from voicelog.optics import LensSet
from voicelog.phrases import meanings as say

# The largest cylinder of a usual trial case (trial-set descriptions; from memory). More astigmatism exists; it is rare
# enough to be worth a yes.
PLAUSIBLE_CYLINDER_D = 6.0
# Axes are set in fives nearly always (common practice, no source). Taken as 19 of 20: then each of the 36 axes in
# fives is 76 times as likely as each of the 144 others, and a rival must be that much less likely by its sound.
ODD_AXIS_MARGIN_LOG = math.log((19 / 20 / 36) / (1 / 20 / 144))
_SAME_D = 1e-6

_Entry = say.Reading | say.Lenses | say.Correction | say.Change | say.NotBut


@dataclass(frozen=True, slots=True)
class Evidence:
    """What else is known when an entry is heard: the trial lenses at hand, and how near the next meaning was.

    None: not known, and nothing is asked for its sake. `margin_log` is base e.
    """

    lens_set: LensSet | None = None
    margin_log: float | None = None


NO_EVIDENCE = Evidence()


def unlikely(
    before: ExamState, after: ExamState, meaning: say.Meaning, evidence: Evidence = NO_EVIDENCE
) -> str | None:
    """Why a heard meaning should be confirmed, in words; None when there is no reason.

    Reasons: it cannot be true together with what was read before (motions, or the lens that the readings so far
    predict); no lens of the set has its power; its axis is not in fives and another meaning was near; or it makes the
    two meridians differ more than eyes usually do.
    """
    if before.eye is None or not isinstance(meaning, _Entry):
        return None
    for reason in (
        _against_the_log(before, after),
        _not_predicted(before, after),
        _no_such_lens(meaning, evidence),
        _odd_axis(meaning, evidence),
    ):
        if reason is not None:
            return reason
    return None


def is_misheard(meanings: Sequence[say.Meaning]) -> bool:
    """Whether one of several things heard in a breath cannot be: then the others may be misheard as well.

    "Working at two feet, call it sixty one" was heard as a distance of 2 cm and as a wet condition.
    """
    return len(meanings) > 1 and any(_cannot_be(each) for each in meanings)


def _cannot_be(meaning: say.Meaning) -> bool:
    if isinstance(meaning, say.WorkingDistance):
        return not LEAST_CM <= meaning.distance_cm <= GREATEST_CM
    return any(not 0 <= each <= 180 for each in angles(meaning))


def _against_the_log(before: ExamState, after: ExamState) -> str | None:
    new = new_contradictions(before, after)
    if new:
        return new[0]
    spread_d = _between_meridians_d(after)
    if spread_d > PLAUSIBLE_CYLINDER_D and spread_d > _between_meridians_d(before) + _SAME_D:
        return f"the meridians would differ by {spread_d:.2f} D"
    return None


def _not_predicted(before: ExamState, after: ExamState) -> str | None:
    """A reading far from what the readings before predict for its meridian."""
    if after.eye is None:
        return None
    was, now = before.eyes[after.eye], after.eyes[after.eye]
    if now.pass_number != was.pass_number or len(now.readings) <= len(was.readings):
        return None
    return misfit(was.solution, now.readings[-1].entry, was.writing.judged_sd_d)


def new_contradictions(before: ExamState, after: ExamState) -> tuple[str, ...]:
    """Motions of the eye in hand that cannot be true beside what was read, and could before, in words."""
    if after.eye is None:
        return ()
    known = before.eyes[after.eye].solution.contradictions
    return tuple(text for text in after.eyes[after.eye].solution.contradictions if text not in known)


def not_across(before: ExamState, after: ExamState) -> tuple[str, ...]:
    """What is said when two meridians of the eye in hand are not at right angles: one of them may be another one."""
    if after.eye is None:
        return ()
    known = {each.text for each in before.eyes[after.eye].problems}
    new = (each for each in after.eyes[after.eye].problems if each.text not in known)
    return tuple(f"{each.text}; or is one another?" for each in new if each.code == "third_meridian_needed")


def _between_meridians_d(state: ExamState) -> float:
    """The largest difference between the neutral powers of the eye's meridians, dioptres; the latest of each counts."""
    if state.eye is None:
        return 0.0
    neutral = state.eyes[state.eye].neutral
    nets = [each.net_d for each in neutral]
    known = [net for net in nets if net is not None]
    compared = known if len(known) == len(nets) else [each.gross_d for each in neutral]
    return max(compared) - min(compared) if compared else 0.0


def _no_such_lens(meaning: _Entry, evidence: Evidence) -> str | None:
    if evidence.lens_set is None:
        return None
    for kind, power, sizes_d in _lenses(meaning, evidence.lens_set):
        if power.dioptres and not any(abs(abs(exact_d(power)) - size) < _SAME_D for size in sizes_d):
            return f"no single {kind} of your set has {power.dioptres:+.2f} D"
    return None


def _lenses(meaning: _Entry, lens_set: LensSet) -> Iterator[tuple[str, say.Power, tuple[float, ...]]]:
    """Every power of a meaning with the lenses it may be; one by itself may be a sphere or a cylinder."""
    entry = meaning.entry if isinstance(meaning, say.Correction) else meaning
    if isinstance(entry, say.Reading | say.Lenses):
        if entry.lens is not None and entry.lens.sphere is not None and not entry.lens.on_top:
            yield "sphere", entry.lens.sphere, lens_set.spheres_d
        if entry.lens is not None and entry.lens.cylinder is not None:
            yield "cylinder", entry.lens.cylinder.power, lens_set.cylinders_d
        return
    if isinstance(entry, say.NotBut):
        yield "lens", entry.right, lens_set.spheres_d + lens_set.cylinders_d
    elif isinstance(entry, say.Change | say.LoosePower):
        for power in powers(entry):
            yield "lens", power, lens_set.spheres_d + lens_set.cylinders_d


def _odd_axis(meaning: _Entry, evidence: Evidence) -> str | None:
    if evidence.margin_log is None or evidence.margin_log >= ODD_AXIS_MARGIN_LOG:
        return None
    odd = next((angle for angle in angles(meaning) if angle % 5), None)
    return None if odd is None else f"{odd} is not in fives, and something else was near"
