"""Events folded into the state of the exam: what each eye's readings are and what they make."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Literal

from voicelog.exam.events import Event, Question, Said, Started
from voicelog.exam.findings import Findings, after_finding
from voicelog.exam.ledger import Ledger, Line, meridian_deg
from voicelog.exam.lenses import LensesInPlace, exact_d
from voicelog.exam.near import NearFindings, after_near
from voicelog.exam.passes import PassMean, mean_of_passes
from voicelog.optics import (
    PUBLISHED_NEUTRALITY_SD_D,
    ErrorModel,
    MeridianBounds,
    MeridianReading,
    MotionReading,
    Problem,
    Solution,
    SpheroCylinder,
    WorkingDistance,
    bounds_by_meridian,
    solve_readings,
)
from voicelog.phrases import meanings as say

EyeName = Literal["right", "left"]
EYES: tuple[EyeName, EyeName] = ("right", "left")


@dataclass(frozen=True, slots=True)
class TakenReading:
    """One reading as resolved: power meridian in degrees, lenses before the eye, and what the allowance was."""

    number: int
    meridian_deg: int
    where: say.Where | None
    motion: say.Motion
    lenses: LensesInPlace
    lens_in: bool
    distance_cm: float | None

    @property
    def gross_d(self) -> float:
        """Summed power of the lenses along the meridian, the working-distance lens apart."""
        return self.lenses.power_along_d(self.meridian_deg)

    @property
    def allowance_d(self) -> float | None:
        """What is taken off for the working distance; None when the distance was not said."""
        if self.lens_in:
            return 0.0
        return None if self.distance_cm is None else WorkingDistance(self.distance_cm / 100).allowance_d

    @property
    def net_d(self) -> float | None:
        """Gross power less the allowance; None when the distance was not said."""
        return None if self.allowance_d is None else self.gross_d - self.allowance_d


@dataclass(frozen=True, slots=True)
class Writing:
    """How results are written down: cylinder form, and the steps of power and axis."""

    form: Literal["minus", "plus"] = "minus"
    power_step_d: float = 0.25
    axis_step_deg: int = 1


@dataclass(frozen=True)
class EyeState:
    """What is known of one eye: the pass in hand, and the passes before it.

    A new pass begins with its first reading; until then `pass_opened` says that one was announced.
    """

    readings: tuple[TakenReading, ...] = ()
    reflexes: tuple[tuple[str, int | None], ...] = ()
    lenses: LensesInPlace = field(default_factory=LensesInPlace)
    meridian_deg: int | None = None
    concave_mirror: bool = False
    writing: Writing = Writing()
    earlier: tuple["EyeState", ...] = ()
    pass_opened: bool = False

    @property
    def pass_number(self) -> int:
        """Which pass the readings are of, from 1."""
        return len(self.earlier) + 1

    @property
    def passes(self) -> tuple["EyeState", ...]:
        """Every pass that has readings, in order; each is an eye by itself."""
        return (*self.earlier, self) if self.readings else self.earlier

    @cached_property
    def mean(self) -> PassMean | None:
        """The mean of the passes that are solved; None of fewer than two."""
        solved = [each.solution.vector for each in self.passes if each.status == "solved"]
        vectors = [vector for vector in solved if vector is not None]
        writing = self.writing
        return mean_of_passes(vectors, writing.form, writing.power_step_d, writing.axis_step_deg)

    @property
    def result(self) -> SpheroCylinder | None:
        """The refraction to go on with: the mean of the passes, or the one pass's; None unless it is solved."""
        if self.mean is not None:
            return self.mean.net
        solved = [each for each in self.passes if each.status == "solved"]
        return solved[-1].solution.net if solved else None

    @cached_property
    def neutral(self) -> tuple[TakenReading, ...]:
        """The readings that were neutral."""
        return tuple(each for each in self.readings if each.motion == "neutral")

    @cached_property
    def bounds(self) -> tuple[MeridianBounds, ...]:
        """What the motions say of each meridian, gross."""
        seen = [MotionReading(each.meridian_deg, each.gross_d, each.motion) for each in self.readings]
        return bounds_by_meridian(seen, concave_mirror=self.concave_mirror)

    @cached_property
    def solution(self) -> Solution:
        """The refraction from the neutral readings; net of the working distance where that is known."""
        known = [each for each in self.neutral if each.net_d is not None]
        readings = [MeridianReading(each.meridian_deg, each.net_d or 0.0) for each in known]
        return solve_readings(
            readings,
            form=self.writing.form,
            power_step_d=self.writing.power_step_d,
            axis_step_deg=self.writing.axis_step_deg,
            errors=self._errors,
        )

    @property
    def _errors(self) -> ErrorModel:
        """How far readings may be off; the working distance's own error is common to all meridians."""
        distances = [each.distance_cm for each in self.neutral if each.distance_cm]
        allowance_sd_d = max((WorkingDistance(each / 100).allowance_sd_d for each in distances), default=0.0)
        return ErrorModel(allowance_sd_d=allowance_sd_d, neutrality_sd_d=PUBLISHED_NEUTRALITY_SD_D)

    @property
    def uncertainty(self) -> str | None:
        """How sure the written result is, in words; None while there is none."""
        spread, net = self.solution.uncertainty, self.solution.net
        return spread.text(net) if spread and net and self.status == "solved" else None

    @cached_property
    def problems(self) -> tuple[Problem, ...]:
        """Everything that stands in the way of the result, in words."""
        found = [problem for each in self.bounds for problem in each.problems]
        if any(each.net_d is None for each in self.neutral):
            found.append(
                Problem("distance_missing", "the working distance was not said, so there is no net power")
            )
        if self.readings:
            found += self.solution.problems
        return tuple(found)

    @property
    def contradicted(self) -> bool:
        """Whether motions and neutral values of some meridian cannot all be true."""
        return any(each.problems for each in self.bounds)

    @property
    def status(self) -> Literal["empty", "incomplete", "solved", "conflict"]:
        """empty: nothing read; incomplete: more is needed; conflict: what was said cannot all be true."""
        if not self.readings:
            return "empty"
        if self.contradicted or self.solution.status == "conflict":
            return "conflict"
        if self.solution.status == "empty" or any(each.net_d is None for each in self.neutral):
            return "incomplete"
        return self.solution.status


@dataclass(frozen=True)
class ExamState:
    """The exam as it stands."""

    naming: say.Naming
    reference: str = ""
    writing: Writing = Writing()
    ledger: Ledger = field(default_factory=lambda: Ledger("streak"))
    events: tuple[Event, ...] = ()
    start_distance_cm: float | None = None
    question: Question | None = None
    question_number: int | None = None
    listening: bool = True
    in_note: bool = False

    @cached_property
    def _folded(self) -> "_Fold":
        fold = _Fold(self.naming, self.writing, _distances(self.ledger.live, self.start_distance_cm))
        for line in self.ledger.live:
            fold.take(line)
        return fold

    @property
    def eye(self) -> EyeName | None:
        """The eye now examined."""
        return self._folded.eye

    @property
    def eyes(self) -> dict[EyeName, EyeState]:
        """Both eyes."""
        concave = self._folded.concave
        return {name: _with_mirror(self._folded.eyes[name], concave=concave) for name in EYES}

    @property
    def findings(self) -> Findings:
        """What was found beside the readings."""
        return self._folded.findings

    @property
    def near(self) -> Mapping[EyeName, NearFindings]:
        """Near and dynamic retinoscopy of both eyes, apart from the static readings."""
        return self._folded.near

    @property
    def distance_cm(self) -> float | None:
        """The working distance now in force."""
        return self._folded.distance_cm

    @property
    def lens_in(self) -> bool:
        """Whether the working-distance lens is before the eye."""
        return self._folded.lens_in

    @property
    def concave_mirror(self) -> bool:
        """Whether the sleeve is set to the concave mirror."""
        return self._folded.concave


def _with_mirror(eye: EyeState, *, concave: bool) -> EyeState:
    earlier = tuple(replace(each, concave_mirror=concave) for each in eye.earlier)
    return replace(eye, concave_mirror=concave, earlier=earlier)


def fold(events: Iterable[Event]) -> ExamState:
    """The state that events lead to; the first must be `Started`. Pure: the same events give the same state."""
    state: ExamState | None = None
    for event in events:
        state = after(state, event)
    if state is None:
        raise ValueError("an exam has at least its first event")
    return state


def after(state: ExamState | None, event: Event) -> ExamState:
    """The state after one more event."""
    if isinstance(event, Started):
        return ExamState(
            event.naming,
            event.reference,
            Writing(event.form, event.power_step_d, event.axis_step_deg),
            Ledger(event.naming),
            (event,),
            event.distance_cm,
        )
    if state is None:
        raise ValueError("the first event of an exam must be its start")
    return _after_said(state, event)


def _after_said(state: ExamState, event: Said) -> ExamState:
    changed = replace(state, events=(*state.events, event))
    if event.outcome == "asked":
        changed = replace(changed, question=event.question, question_number=event.number)
    elif event.outcome == "accepted" and event.question is None and not say.is_command(event.meaning):
        changed = replace(changed, question=None, question_number=None)
    if event.outcome == "accepted" and isinstance(event.meaning, say.Plain):
        listening = {"pause": False, "resume": True}.get(event.meaning.kind, changed.listening)
        in_note = {"note": True, "end_note": False}.get(event.meaning.kind, changed.in_note)
        changed = replace(changed, listening=listening, in_note=in_note)
    if event.entry is not None:
        changed = replace(changed, ledger=changed.ledger.with_entry(event.number, event.entry))
    return changed


def with_entry(state: ExamState, meaning: say.Meaning) -> ExamState:
    """The state as it would be with one more entry; nothing is kept. Raises CannotCorrectError as the ledger does."""
    number = len(state.events)
    return replace(state, ledger=state.ledger.with_entry(number, meaning))


def _distances(lines: Sequence[Line], start_cm: float | None) -> float | None:
    """The distance of readings taken before any was said: the exam's own, else the first said afterwards."""
    if start_cm is not None:
        return start_cm
    said = (line.meaning for line in lines)
    return next((each.distance_cm for each in said if isinstance(each, say.WorkingDistance)), None)


class _Fold:
    """Runs over the live lines once; mutable inside, never seen outside."""

    def __init__(self, naming: say.Naming, writing: Writing, distance_cm: float | None) -> None:
        self.naming = naming
        self.eye: EyeName | None = None
        self.eyes: dict[EyeName, EyeState] = {name: EyeState(writing=writing) for name in EYES}
        self.distance_cm = distance_cm
        self.lens_in = False
        self.concave = False
        self.findings = Findings()
        nothing = NearFindings(
            form=writing.form, power_step_d=writing.power_step_d, axis_step_deg=writing.axis_step_deg
        )
        self.near: Mapping[EyeName, NearFindings] = dict.fromkeys(EYES, nothing)

    def take(self, line: Line) -> None:
        match line.meaning:
            case say.Eye(eye=eye):
                self.eye = self._other() if eye == "other" else eye
            case say.WorkingDistance(distance_cm=distance):
                self.distance_cm = distance
            case say.WorkingLens(position=position, power=power):
                self.lens_in = position == "in"
                if power is not None and power.dioptres:
                    self.distance_cm = 100 / exact_d(power)
            case say.Mirror(mirror=mirror):
                self.concave = mirror == "concave"
            case say.Lenses() as lenses:
                self._place(lenses)
            case say.Reading() as reading:
                self._read(line.number, reading)
            case say.Reflex(reflex=reflex, where=where):
                self._note_reflex(reflex, where)
            case say.Pass():
                self._open_pass()
            case say.Dark() | say.Estimate() | say.Dynamic() as near:
                self.near = after_near(self.near, line.number, near, self.eye, self.naming)
            case other:
                self.findings = after_finding(self.findings, line.number, other, self.eye)

    def _other(self) -> EyeName | None:
        return None if self.eye is None else "left" if self.eye == "right" else "right"

    def _here(self) -> EyeState | None:
        return None if self.eye is None else self.eyes[self.eye]

    def _put(self, state: EyeState) -> None:
        if self.eye is not None:
            self.eyes[self.eye] = state

    def _place(self, lenses: say.Lenses) -> None:
        here = self._here()
        if here is None:
            return
        in_place = here.lenses
        if lenses.remove == "all":
            in_place = LensesInPlace()
        elif lenses.remove == "cylinder":
            in_place = in_place.without_cylinder()
        elif lenses.lens is not None:
            in_place = in_place.changed_by(lenses.lens)
        self._put(replace(here, lenses=in_place))

    def _open_pass(self) -> None:
        """A place in hand is of the pass before; the lenses stay before the eye until it is said otherwise."""
        here = self._here()
        if here is not None:
            self._put(replace(here, pass_opened=bool(here.readings), meridian_deg=None))

    def _read(self, number: int, reading: say.Reading) -> None:
        here = self._here()
        if here is None:
            return
        if here.pass_opened:
            before = replace(here, earlier=(), pass_opened=False)
            here = EyeState(lenses=here.lenses, writing=here.writing, earlier=(*here.earlier, before))
        meridian = here.meridian_deg if reading.where is None else meridian_deg(reading.where, self.naming)
        if meridian is None:
            return
        in_place = here.lenses
        if reading.lens is not None:
            sphere_alone = reading.lens.sphere is not None and reading.lens.cylinder is None
            if sphere_alone and not reading.lens.on_top and meridian != here.meridian_deg:
                in_place = in_place.without_cylinder()
            in_place = in_place.changed_by(reading.lens)
        taken = TakenReading(
            number, meridian, reading.where, reading.motion, in_place, self.lens_in, self.distance_cm
        )
        self._put(replace(here, readings=(*here.readings, taken), lenses=in_place, meridian_deg=meridian))

    def _note_reflex(self, reflex: str, where: say.Where | None) -> None:
        here = self._here()
        if here is not None:
            place = None if where is None else meridian_deg(where, self.naming)
            self._put(replace(here, reflexes=(*here.reflexes, (reflex, place))))
