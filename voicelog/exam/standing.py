"""Live entries folded into what they make: eye in hand, both eyes, distance, mirror, findings. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, Literal, TypeVar, assert_never

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


@dataclass(frozen=True)
class Standing:
    """What the entries make, as far as they go.

    `eye_from` and `allowance_from` are the ids of the entries that said eye and distance last; None: nothing said, or
    the exam's own from its start.
    """

    habit: say.Naming
    eyes: Mapping[EyeName, EyeState]
    habit_said: bool = True
    eye: EyeName | None = None
    eye_from: str | None = None
    allowance: Allowance = field(default_factory=Allowance)
    allowance_from: str | None = None
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
                return replace(self, eye=eye, eye_from=name)
            case DistanceEntry() | WorkingLensEntry():
                return self._with_allowance(name, entry)
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

    def _with_allowance(self, name: str, entry: DistanceEntry | WorkingLensEntry) -> "Standing":
        if isinstance(entry, DistanceEntry):
            allowance = self.allowance.model_copy(update={"distance_cm": entry.distance_cm})
            return replace(self, allowance=allowance, allowance_from=name)
        allowance = entry.allowance(self.allowance)
        said_distance = self.allowance.distance_cm is None and allowance.distance_cm is not None
        return replace(
            self, allowance=allowance, allowance_from=name if said_distance else self.allowance_from
        )

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
