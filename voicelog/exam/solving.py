"""From the readings of one pass to its refraction: the exam's readings put before the optics.

Looks from different distances are compared at the distance of the last: each net power has that one's allowance put
back, so that what the optics say of a lens is said in the lenses the examiner holds.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

from voicelog.exam.entries import ReadingEntry, TrialLenses
from voicelog.optics import (
    PUBLISHED_NEUTRALITY_SD_D,
    ErrorModel,
    Look,
    LooksSolution,
    PowerVector,
    Problem,
    SpheroCylinder,
    Uncertainty,
    fits,
    group_looks,
    solve_looks,
)

Status = Literal["empty", "incomplete", "solved", "conflict"]
QUESTIONED_CHANCE: Final = 0.03
"""Of true readings, the share that is asked about for being unlike the others. At 1 in 100 a slip of 1.5 D goes
unnoticed more often than in 1 of 20 exams read twice (tests/optics, simulated exams); a question costs a "yes"."""
DISTANCE_MISSING: Final = Problem(
    "distance_missing", "the working distance was not said, so there is no net power"
)


@dataclass(frozen=True, slots=True)
class PassSolution:
    """What the readings of one pass make.

    found     as the optics see it, of the readings whose power is known
    standing  indices of the neutral readings that count: of a meridian the last, its distance known or not
    """

    status: Status
    found: LooksSolution
    standing: tuple[int, ...] = ()
    problems: tuple[Problem, ...] = ()
    allowance_d: float = 0.0

    @property
    def solved(self) -> bool:
        """Whether there is a result that may be handed on."""
        return self.status == "solved"

    @property
    def net(self) -> SpheroCylinder | None:
        """The lens to write down; None unless the readings determine one."""
        return self.found.net if self.status in ("solved", "conflict") else None

    @property
    def exact(self) -> SpheroCylinder | None:
        """The unrounded lens."""
        return self.found.exact if self.status in ("solved", "conflict") else None

    @property
    def vector(self) -> PowerVector | None:
        """The unrounded lens as a power vector."""
        return self.found.vector if self.status in ("solved", "conflict") else None

    @property
    def residual_d(self) -> float | None:
        """Root mean square of what the fit leaves over."""
        return self.found.residual_d

    @property
    def uncertainty(self) -> Uncertainty | None:
        """Standard deviations of the result."""
        return self.found.uncertainty

    @property
    def contradictions(self) -> tuple[str, ...]:
        """Motions that cannot be true together with other readings, in words."""
        return tuple(each.problem.text for each in self.found.contradictions)


@dataclass(frozen=True, slots=True)
class LooksInHand:
    """The looks that are put before the optics, the indices of their readings, and the allowance to be taken off.

    `counted` are the indices of all readings that count, those whose distance alone is not known among them.
    """

    counted: tuple[int, ...]
    indices: tuple[int, ...]
    looks: tuple[Look, ...]
    allowance_d: float


def looks_in_hand(readings: Sequence[ReadingEntry]) -> LooksInHand:
    """The readings of one pass that count, as looks: those whose distance is known, or all where none is."""
    counted = _counted(readings)
    net = [index for index in counted if readings[index].net_d is not None]
    # Without any distance the motions can still contradict each other; there is no result then.
    looked = net or counted
    # A lens stronger than the distance wants leaves a rest below zero: it is then within the powers themselves.
    allowance_d = max(0.0, readings[net[-1]].allowance.taken_off_d or 0.0) if net else 0.0
    looks = tuple(_look(readings[index], allowance_d) for index in looked)
    return LooksInHand(tuple(counted), tuple(looked), looks, allowance_d)


def solve_pass(
    readings: Sequence[ReadingEntry],
    form: Literal["minus", "plus"] = "minus",
    power_step_d: float = 0.25,
    axis_step_deg: int = 1,
    neutrality_sd_d: float = PUBLISHED_NEUTRALITY_SD_D,
) -> PassSolution:
    """The refraction of one pass. A neutral reading that counts, without its distance, leaves it incomplete."""
    hand = looks_in_hand(readings)
    found = solve_looks(
        hand.looks,
        allowance_d=hand.allowance_d,
        form=form,
        power_step_d=power_step_d,
        axis_step_deg=axis_step_deg,
        errors=_errors(readings, neutrality_sd_d),
    )
    problems = found.problems
    status: Status = found.status
    standing = (
        tuple(hand.indices[index] for index in found.standing)
        if hand.indices == hand.counted
        else _standing(readings, hand.counted)
    )
    if any(readings[index].net_d is None for index in standing):
        problems = (*problems, DISTANCE_MISSING)
        status = "conflict" if status == "conflict" and found.contradictions else "incomplete"
    return PassSolution(status, found, standing, problems if readings else (), hand.allowance_d)


def _standing(readings: Sequence[ReadingEntry], counted: Sequence[int]) -> tuple[int, ...]:
    """Of the readings that count the neutral ones that no later one takes the place of."""
    groups = group_looks([_look(readings[index], 0.0) for index in counted], "last")
    return tuple(sorted(counted[index] for group in groups for index in group.standing))


def _counted(readings: Sequence[ReadingEntry]) -> list[int]:
    """Indices of the readings, those of a motion apart whose lens was taken for neutral after all: "slight against
    ... I'll take it".
    """
    taken: set[tuple[int, TrialLenses]] = set()
    found = []
    for index in range(len(readings) - 1, -1, -1):
        each = readings[index]
        place = each.meridian_deg, each.lenses
        if each.motion == "neutral" or place not in taken:
            found.append(index)
        if each.taken:
            taken.add(place)
    return found[::-1]


def _look(reading: ReadingEntry, allowance_d: float) -> Look:
    power_d = reading.gross_d if reading.net_d is None else reading.net_d + allowance_d
    return Look(
        meridian_deg=reading.meridian_deg,
        power_d=power_d,
        motion=reading.motion,
        concave_mirror=reading.mirror == "concave",
    )


def _errors(readings: Sequence[ReadingEntry], neutrality_sd_d: float) -> ErrorModel:
    """How far readings may be off; the working distance's own error is common to all meridians."""
    sd_d = max((each.allowance.distance_sd_d for each in readings if each.motion == "neutral"), default=0.0)
    return ErrorModel(allowance_sd_d=sd_d, neutrality_sd_d=neutrality_sd_d)


def misfit(solution: PassSolution, reading: ReadingEntry, neutrality_sd_d: float) -> str | None:
    """Why a reading does not fit what the readings so far predict for its meridian, in words; None when it fits."""
    if reading.net_d is None:
        return None
    look = _look(reading, solution.allowance_d)
    problem = fits(solution.found, look, _errors([reading], neutrality_sd_d), QUESTIONED_CHANCE)
    return None if problem is None else problem.text
