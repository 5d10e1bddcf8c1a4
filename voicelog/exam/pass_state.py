"""One pass over an eye: its readings, and what they make."""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Literal

from voicelog.exam.entries import Allowance, Dryness, ReadingEntry, TrialLenses
from voicelog.exam.events import event_number
from voicelog.exam.solving import PassSolution, solve_pass
from voicelog.optics import PUBLISHED_NEUTRALITY_SD_D, Problem, is_of_eighths, round_power_d, written_power

Status = Literal["empty", "incomplete", "solved", "conflict"]


@dataclass(frozen=True, slots=True)
class Writing:
    """How results are written down: cylinder form, the steps of power and axis, and by which error they are judged.

    `neutrality_sd_d` is the standard deviation with which this examiner judges neutrality, dioptres; None: the
    published one.
    """

    form: Literal["minus", "plus"] = "minus"
    power_step_d: float = 0.25
    axis_step_deg: int = 1
    neutrality_sd_d: float | None = None

    @property
    def judged_sd_d(self) -> float:
        """The standard deviation of neutrality that counts."""
        return PUBLISHED_NEUTRALITY_SD_D if self.neutrality_sd_d is None else self.neutrality_sd_d

    def power_words(self, power_d: float) -> str:
        """A power that was worked out, in dioptres, as it is shown everywhere: "-2.75" for -2.7425."""
        return written_power(round_power_d(power_d, self.power_step_d))

    def gross_words(self, gross_d: float) -> str:
        """What the lenses sum to along a meridian: as it is, or rounded where no trial lens is so."""
        return written_power(gross_d) if is_of_eighths(gross_d) else self.power_words(gross_d)


@dataclass(frozen=True, slots=True)
class TakenReading:
    """One reading of the ledger, with its id."""

    id: str
    entry: ReadingEntry

    @property
    def number(self) -> int:
        """The number of its event."""
        return event_number(self.id)

    @property
    def meridian_deg(self) -> int:
        """Meridian of power, 1 to 180."""
        return self.entry.meridian_deg

    @property
    def motion(self) -> Literal["with", "against", "neutral"]:
        """What was seen."""
        return self.entry.motion

    @property
    def lenses(self) -> TrialLenses:
        """What was before the eye."""
        return self.entry.lenses

    @property
    def allowance(self) -> Allowance:
        """Distance and its lens."""
        return self.entry.allowance

    @property
    def lens_in(self) -> bool:
        """Whether the working-distance lens was in place."""
        return self.entry.allowance.lens_in

    @property
    def distance_cm(self) -> float | None:
        """The working distance; None when it was not said."""
        return self.entry.allowance.distance_cm

    @property
    def gross_d(self) -> float:
        """Summed power of the lenses along the meridian, the working-distance lens apart."""
        return self.entry.gross_d

    @property
    def allowance_d(self) -> float | None:
        """What is taken off; None when the distance was not said."""
        return self.entry.allowance.taken_off_d

    @property
    def net_d(self) -> float | None:
        """Gross power less the allowance; None when the distance was not said."""
        return self.entry.net_d


@lru_cache(maxsize=256)
def _solved(readings: tuple[ReadingEntry, ...], writing: Writing) -> PassSolution:
    """A pass is solved once, however often the ledger is folded: by session, record and what a line would lead to."""
    return solve_pass(
        readings, writing.form, writing.power_step_d, writing.axis_step_deg, writing.judged_sd_d
    )


@dataclass(frozen=True)
class PassState:
    """One retinoscopy of one eye: its readings in the order they were said, and what they make."""

    number: int
    condition: Dryness
    readings: tuple[TakenReading, ...] = ()
    writing: Writing = Writing()

    @property
    def place(self) -> tuple[int, bool]:
        """Where it stands among the passes of its eye: by number, the dry one first."""
        return self.number, self.condition == "wet"

    def holds(self, entry: ReadingEntry) -> bool:
        """Whether a reading of this eye is of this pass."""
        return (entry.pass_number, entry.condition) == (self.number, self.condition)

    @cached_property
    def solution(self) -> PassSolution:
        """The refraction, net of the working distance where that is known."""
        return _solved(tuple(each.entry for each in self.readings), self.writing)

    @cached_property
    def neutral(self) -> tuple[TakenReading, ...]:
        """The neutral readings that stand: of a meridian the last."""
        return tuple(self.readings[index] for index in self.solution.standing)

    @property
    def superseded(self) -> tuple[TakenReading, ...]:
        """Neutral readings that a later one of their meridian took the place of."""
        standing = set(self.solution.standing)
        return tuple(
            each
            for index, each in enumerate(self.readings)
            if each.motion == "neutral" and index not in standing
        )

    @property
    def uncertainty(self) -> str | None:
        """How sure the written result is, in words; None while there is none."""
        spread, net = self.solution.uncertainty, self.solution.net
        return spread.text(net) if spread and net and self.status == "solved" else None

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Everything that stands in the way of the result, or that should be known of it, in words."""
        return self.solution.problems

    @property
    def contradicted(self) -> bool:
        """Whether motions and neutral values cannot all be true."""
        return bool(self.solution.contradictions)

    @property
    def status(self) -> Status:
        """empty: nothing read; incomplete: more is needed; conflict: what was said cannot all be true."""
        return self.solution.status
