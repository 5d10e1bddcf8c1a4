"""One eye: its passes, what is before it, and what its readings make."""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property

from voicelog.exam.entries import (
    BaseEntry,
    Dryness,
    InPlace,
    LensesEntry,
    PlaceEntry,
    ReadingEntry,
    ReflexEntry,
    TrialLenses,
)
from voicelog.exam.pass_state import PassState, Status, TakenReading, Writing
from voicelog.exam.passes import PassMean, mean_of_passes
from voicelog.exam.solving import PassSolution
from voicelog.exam.starting import NOTHING_BEFORE, KnownBefore
from voicelog.optics import PowerVector, Problem, SpheroCylinder


@dataclass(frozen=True)
class EyeState:
    """What is known of one eye. `readings` and what follows from them are of the pass in hand.

    A pass begins with its first reading; `opened` is the number of one that was announced and has none yet.
    `cylinder_untried`: the cylinder in place was put in since the last look. `before`: what the estimate begins from.
    """

    writing: Writing = field(default_factory=Writing)
    condition: Dryness = "dry"
    by_pass: tuple[PassState, ...] = ()
    opened: int | None = None
    in_place: InPlace = field(default_factory=InPlace)
    cylinder_untried: bool = False
    meridian_deg: int | None = None
    reflexes: tuple[ReflexEntry, ...] = ()
    before: KnownBefore = NOTHING_BEFORE

    @cached_property
    def in_hand(self) -> PassState:
        """The pass in hand; without readings before its first."""
        return self.by_pass[-1] if self.by_pass else PassState(1, self.condition, writing=self.writing)

    @property
    def pass_number(self) -> int:
        """Which pass the readings are of, from 1."""
        return self.in_hand.number

    @property
    def next_pass_number(self) -> int:
        """The pass that the next reading will be of: another one after "next pass", and when drops came between."""
        if self.opened is not None:
            return self.opened
        here = self.in_hand
        return here.number + (bool(here.readings) and here.condition != self.condition)

    @property
    def pass_has_readings(self) -> bool:
        """Whether the pass that the next reading would be of has readings already."""
        return bool(self.by_pass) and self.next_pass_number == self.in_hand.number

    @property
    def pass_opened(self) -> bool:
        """Whether the next reading begins another pass."""
        return bool(self.by_pass) and not self.pass_has_readings

    @property
    def passes(self) -> tuple[PassState, ...]:
        """Every pass that has readings, in order."""
        return self.by_pass

    @property
    def earlier(self) -> tuple[PassState, ...]:
        """The passes before the one in hand."""
        return self.by_pass[:-1]

    def earlier_at(self, meridian_deg: int) -> InPlace | None:
        """What was neutral in a meridian in the last pass, while the pass that comes has no reading; else None."""
        if not self.pass_opened:
            return None
        found = self.neutral_at(meridian_deg)
        return None if found is None else InPlace(found)

    @property
    def neutral_along_deg(self) -> tuple[int, ...]:
        """The meridians of the pass that counts in which something was neutral, in the order they were read."""
        return tuple(dict.fromkeys(each.meridian_deg for each in self.neutral))

    def neutral_at(self, meridian_deg: int) -> TrialLenses | None:
        """What was neutral in a meridian last, in the pass that counts; None where nothing was."""
        found = [each.lenses for each in self.neutral if each.meridian_deg == meridian_deg]
        return found[-1] if found else None

    @property
    def readings(self) -> tuple[TakenReading, ...]:
        """The readings of the pass in hand."""
        return self.in_hand.readings

    @property
    def lenses(self) -> TrialLenses:
        """What is before the eye now."""
        return self.in_place.lenses

    @property
    def neutral(self) -> tuple[TakenReading, ...]:
        """The neutral readings of the pass in hand that stand."""
        return self.in_hand.neutral

    @property
    def solution(self) -> PassSolution:
        """The refraction of the pass in hand."""
        return self.in_hand.solution

    @property
    def uncertainty(self) -> str | None:
        """How sure the result of the pass in hand is, in words."""
        return self.in_hand.uncertainty

    @property
    def problems(self) -> tuple[Problem, ...]:
        """Problems of the pass in hand."""
        return self.in_hand.problems

    @property
    def contradicted(self) -> bool:
        """Whether the readings of the pass in hand contradict each other."""
        return self.in_hand.contradicted

    @property
    def status(self) -> Status:
        """Status of the pass in hand."""
        return self.in_hand.status

    def of_condition(self, condition: Dryness) -> tuple[PassState, ...]:
        """The passes without drops, or those under cycloplegia; they are never mixed."""
        return tuple(each for each in self.by_pass if each.condition == condition)

    def mean_of(self, condition: Dryness) -> PassMean | None:
        """The mean of the solved passes of a condition; None of fewer than two."""
        solved = [each.solution.vector for each in self.of_condition(condition) if each.status == "solved"]
        vectors: list[PowerVector] = [vector for vector in solved if vector is not None]
        writing = self.writing
        return mean_of_passes(vectors, writing.form, writing.power_step_d, writing.axis_step_deg)

    def result_of(self, condition: Dryness) -> SpheroCylinder | None:
        """The refraction of a condition: the mean of its passes, or the one pass's; None unless it is solved."""
        mean = self.mean_of(condition)
        if mean is not None:
            return mean.net
        solved = [each for each in self.of_condition(condition) if each.status == "solved"]
        return solved[-1].solution.net if solved else None

    @property
    def conditions(self) -> tuple[Dryness, ...]:
        """The conditions that passes were made in, dry first."""
        found = {each.condition for each in self.by_pass}
        return tuple(each for each in ("dry", "wet") if each in found)

    @property
    def result_condition(self) -> Dryness:
        """The condition of the pass in hand, whose result is gone on with."""
        return self.in_hand.condition

    @cached_property
    def mean(self) -> PassMean | None:
        """The mean of the passes in the condition of the one in hand; None of fewer than two."""
        return self.mean_of(self.result_condition)

    @cached_property
    def result(self) -> SpheroCylinder | None:
        """The refraction to go on with."""
        return self.result_of(self.result_condition)

    def with_reading(self, name: str, entry: ReadingEntry) -> "EyeState":
        """After one more reading."""
        taken = TakenReading(name, entry)
        by_pass = tuple(self._with_taken(taken))
        in_place = InPlace(
            entry.lenses,
            _origin(entry.sphere_from, name, entry.lenses.sphere_d),
            _origin(entry.cylinder_from, name, entry.lenses.cylinder),
        )
        if entry.late:
            return replace(self, by_pass=by_pass)
        opened = None if self.opened is not None and entry.pass_number >= self.opened else self.opened
        return replace(
            self,
            by_pass=by_pass,
            in_place=in_place,
            cylinder_untried=False,
            meridian_deg=entry.meridian_deg,
            opened=opened,
        )

    def _with_taken(self, taken: TakenReading) -> Iterator[PassState]:
        """The passes with one more reading. Dry and wet never share one: a dry reading that comes in late, when the
        wet ones have begun, is of a pass before theirs.
        """
        entry = taken.entry
        fresh = PassState(entry.pass_number, entry.condition, (taken,), self.writing)
        placed = False
        for each in self.by_pass:
            if not placed and fresh.place < each.place:
                yield fresh
                placed = True
            if fresh.place == each.place:
                placed = True
                yield replace(each, readings=(*each.readings, taken))
            else:
                yield each
        if not placed:
            yield fresh

    def with_lenses(self, name: str, entry: LensesEntry) -> "EyeState":
        """After lenses were put in or taken out."""
        in_place = InPlace(
            entry.lenses,
            _origin(entry.sphere_from, name, entry.lenses.sphere_d),
            _origin(entry.cylinder_from, name, entry.lenses.cylinder),
        )
        stayed = entry.cylinder_from is not None and self.cylinder_untried
        named = entry.lenses.cylinder is not None and entry.cylinder_from is None
        return replace(self, in_place=in_place, cylinder_untried=named or stayed)

    def with_place(self, entry: PlaceEntry) -> "EyeState":
        """After the streak was laid."""
        return replace(self, meridian_deg=entry.meridian_deg)


def _origin(stayed_from: str | None, name: str, part: float | BaseEntry | object | None) -> str | None:
    """The entry that put a part of the frame in place."""
    return None if part is None else stayed_from or name
