"""Live entries folded into what they make: eye in hand, both eyes, distance, mirror, findings. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal, NamedTuple, TypeVar, assert_never

from voicelog.exam.entries import (
    AgeEntry,
    Allowance,
    BaseFinding,
    ConditionEntry,
    DistanceEntry,
    DropsEntry,
    Dryness,
    Entry,
    EyeEntry,
    HabitEntry,
    LensesEntry,
    Mirror,
    MirrorEntry,
    PassEntry,
    PlaceEntry,
    ReadingEntry,
    ReflexEntry,
    SpectaclesEntry,
    StartEntry,
    WorkingLensEntry,
)
from voicelog.exam.eye_state import EyeState
from voicelog.exam.findings import Findings
from voicelog.exam.pass_state import Writing
from voicelog.exam.starting import known_before
from voicelog.phrases import meanings as say

EyeName = Literal["right", "left"]
EYES: Final[tuple[EyeName, EyeName]] = ("right", "left")
Kind = TypeVar("Kind", bound=BaseFinding)
Said = TypeVar("Said")


class StandingLens(NamedTuple):
    """Whether the working-distance lens is in, and its power in dioptres, if it was said."""

    is_in: bool
    power_d: float | None


class SaidDistance(NamedTuple):
    """A working distance in centimetres, and the id of the entry that said it; None: not said."""

    distance_cm: float | None
    said_by: str | None


_NOT_SAID = SaidDistance(None, None)
_NO_LENS = StandingLens(is_in=False, power_d=None)


@dataclass(frozen=True)
class Standing:
    """What the entries make, as far as they go.

    `eye_from` and `allowance_from` are the ids of the entries that said eye and distance last; None: nothing said, or
    the exam's own from its start. `own_distances` and `own_lenses` are those said of one eye alone; what is common
    holds for an eye that has none.
    """

    habit: say.Naming
    eyes: Mapping[EyeName, EyeState]
    habit_said: bool = True
    eye: EyeName | None = None
    eye_from: str | None = None
    allowance: Allowance = field(default_factory=Allowance)
    allowance_from: str | None = None
    common_distance: SaidDistance = _NOT_SAID
    own_distances: Mapping[EyeName, SaidDistance] = field(default_factory=dict)
    common_lens: StandingLens = _NO_LENS
    own_lenses: Mapping[EyeName, StandingLens] = field(default_factory=dict)
    mirror: Mirror = "plane"
    findings: Findings = field(default_factory=Findings)

    @classmethod
    def beginning(
        cls, habit: say.Naming, writing: Writing, distance_cm: float | None, *, habit_said: bool = True
    ) -> "Standing":
        """Before the first entry."""
        return cls(
            habit=habit,
            eyes={name: EyeState(writing=writing) for name in EYES},
            habit_said=habit_said,
            allowance=Allowance(distance_cm=distance_cm),
            common_distance=SaidDistance(distance_cm, None),
        )

    def dryness(self, eye: EyeName) -> Dryness:
        """Whether the next reading of an eye is dry or wet."""
        return self.eyes[eye].condition

    def is_late(self, eye: EyeName) -> bool:
        """Nothing came between what is said now and its entering."""
        return False

    def slot(self, name: str) -> BaseFinding | None:
        """The finding in a slot."""
        return self.findings.slot(name)

    def finding(self, kind: type[Kind], eye: EyeName) -> Kind | None:
        """The last finding of a kind for an eye."""
        return self.findings.last(kind, eye)

    def after(self, name: str, entry: Entry) -> "Standing":
        """After one more entry with that id."""
        match entry:
            case EyeEntry(eye=eye):
                return replace(self, eye=eye, eye_from=name)._with_allowance_of(eye)
            case DistanceEntry(eye=named, distance_cm=distance_cm):
                return self._with_distance(named, SaidDistance(distance_cm, name))
            case WorkingLensEntry():
                return self._with_lens(name, entry)
            case MirrorEntry(mirror=mirror):
                return replace(self, mirror=mirror)
            case ConditionEntry(eye=named, condition=condition):
                return self._dry_or_wet(named, condition)
            case HabitEntry(naming=naming):
                return replace(self, habit=naming, habit_said=True)
            case PassEntry() | LensesEntry() | PlaceEntry() | ReadingEntry():
                seen = self._with_eye(entry.eye, _eye_after(self.eyes[entry.eye], name, entry))
                return replace(seen, habit_said=self.habit_said and not _named_otherwise(entry, self.habit))
            case DropsEntry(eye=named):
                given = replace(self, findings=self.findings.after(name, entry))
                return given._dry_or_wet(named, "wet") if entry.cycloplegic else given
            case ReflexEntry(eye=eye):
                here = self.eyes[eye]
                seen = self._with_eye(eye, replace(here, reflexes=(*here.reflexes, entry)))
                return replace(seen, findings=self.findings.after(name, entry))
            case StartEntry() | SpectaclesEntry() | AgeEntry():
                return replace(self, findings=self.findings.after(name, entry))._begun_otherwise()
            case BaseFinding():
                return replace(self, findings=self.findings.after(name, entry))
            case never:
                assert_never(never)

    def _with_distance(self, named: EyeName | None, said: SaidDistance) -> "Standing":
        """With a distance that was said of one eye, or of the eye in hand and those to come."""
        own = _without(self.own_distances, named or self.eye)
        if named is not None:
            own[named] = said
        common = self.common_distance if named is not None else said
        told = replace(self, common_distance=common, own_distances=own)
        return told._at(said) if named is None or self.eye in (named, None) else told

    def _with_lens(self, name: str, entry: WorkingLensEntry) -> "Standing":
        """With the lens in or out before one eye, or before the eye in hand and those to come."""
        after = entry.allowance(self.allowance)
        lens, named = StandingLens(after.lens_in, after.lens_d), entry.eye
        own = _without(self.own_lenses, named or self.eye)
        if named is not None:
            own[named] = lens
        told = replace(self, common_lens=self.common_lens if named is not None else lens, own_lenses=own)
        if self.allowance.distance_cm is None and after.distance_cm is not None:
            told = told._with_distance(named, SaidDistance(after.distance_cm, name))
        return told._through(lens) if named is None or self.eye in (named, None) else told

    def _with_allowance_of(self, eye: EyeName) -> "Standing":
        lens = self.own_lenses.get(eye, self.common_lens)
        return self._at(self.own_distances.get(eye, self.common_distance))._through(lens)

    def _at(self, said: SaidDistance) -> "Standing":
        allowance = self.allowance.model_copy(update={"distance_cm": said.distance_cm})
        return replace(self, allowance=allowance, allowance_from=said.said_by)

    def _through(self, lens: StandingLens) -> "Standing":
        update = {"lens_in": lens.is_in, "lens_d": lens.power_d}
        return replace(self, allowance=self.allowance.model_copy(update=update))

    def _with_eye(self, name: EyeName, state: EyeState) -> "Standing":
        return replace(self, eyes={**self.eyes, name: state})

    def _begun_otherwise(self) -> "Standing":
        """With what the estimate of each eye now begins from."""
        eyes = {
            name: replace(eye, before=known_before(self.findings, name)) for name, eye in self.eyes.items()
        }
        return replace(self, eyes=eyes)

    def _dry_or_wet(self, named: say.Eyes, condition: Dryness) -> "Standing":
        eyes = {
            name: replace(eye, condition=condition) if named in (name, "both") else eye
            for name, eye in self.eyes.items()
        }
        return replace(self, eyes=eyes)


def _without(own: Mapping[EyeName, Said], eye: EyeName | None) -> dict[EyeName, Said]:
    return {name: each for name, each in own.items() if name != eye}


def _named_otherwise(entry: Entry, habit: say.Naming) -> bool:
    """Whether a reading was named in the other way than bare directions are: what the next one names is asked then."""
    return isinstance(entry, ReadingEntry) and not entry.bare and entry.named != habit


def _eye_after(
    eye: EyeState, name: str, entry: PassEntry | LensesEntry | PlaceEntry | ReadingEntry
) -> EyeState:
    match entry:
        case PassEntry(number=number):
            return replace(eye, opened=number, meridian_deg=None)
        case LensesEntry():
            return eye.with_lenses(name, entry)
        case PlaceEntry():
            return eye.with_place(entry)
        case ReadingEntry():
            return eye.with_reading(name, entry)
        case never:
            assert_never(never)


def stand(beginning: Standing, entries: Iterable[tuple[str, Entry]]) -> Standing:
    """What entries make, in their order."""
    standing = beginning
    for name, entry in entries:
        standing = standing.after(name, entry)
    return standing
