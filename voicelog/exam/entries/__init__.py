"""The kinds of entries. Everything else finds them here: ledger, state, journal and exports know no other list.

A new kind of finding is one module with its class, its name in `Entry` below, its grammar rule and its documents.
"""

from typing import Annotated, Final, get_args

from pydantic import Field, TypeAdapter

from voicelog.exam.entries.acuity import AcuityEntry
from voicelog.exam.entries.age import AgeEntry
from voicelog.exam.entries.allowance import Allowance
from voicelog.exam.entries.base import BaseEntry, BaseFinding, Quantity, Unit, eye_words, other_eye
from voicelog.exam.entries.context import Context, Dryness, InPlace, Mirror, across_deg
from voicelog.exam.entries.cornea import KeratometryEntry
from voicelog.exam.entries.distance import DistanceEntry, WorkingLensEntry, counts_for, is_usual
from voicelog.exam.entries.drops import DropsEntry
from voicelog.exam.entries.earlier import EarlierResult, EarlierVisits, LookUp, no_record
from voicelog.exam.entries.eye import RIGHT_WORD, EyeEntry
from voicelog.exam.entries.face import PupillaryDistanceEntry, PupilsEntry, VertexEntry
from voicelog.exam.entries.frame import LensesEntry, NoteEntry, PlaceEntry, ReflexEntry
from voicelog.exam.entries.lenses import CylinderLens, TrialLenses, exact_d
from voicelog.exam.entries.near import DarkEntry, EstimateEntry, NottEntry
from voicelog.exam.entries.prescription import (
    AdditionEntry,
    AutorefractionEntry,
    OverRefractionEntry,
    PrescriptionEntry,
    SpectaclesEntry,
    SubjectiveEntry,
)
from voicelog.exam.entries.reading import AXIS_OFF_STREAK, ReadingEntry, place_words
from voicelog.exam.entries.setting import (
    TECHNIQUES,
    ConditionEntry,
    HabitEntry,
    MirrorEntry,
    PassEntry,
    TechniqueEntry,
)
from voicelog.exam.entries.signs import AfferentDefectEntry, ConvergenceEntry
from voicelog.exam.entries.stand import DeviationEntry, PrismEntry
from voicelog.exam.entries.start import START_WORDS, StartEntry, StartSource
from voicelog.exam.entries.steps import StepEntry
from voicelog.exam.questions import NeedsAnswer, Question
from voicelog.phrases import meanings as say

Entry = Annotated[
    EyeEntry
    | DistanceEntry
    | WorkingLensEntry
    | MirrorEntry
    | ConditionEntry
    | PassEntry
    | HabitEntry
    | TechniqueEntry
    | LensesEntry
    | PlaceEntry
    | ReadingEntry
    | ReflexEntry
    | NoteEntry
    | AcuityEntry
    | SpectaclesEntry
    | SubjectiveEntry
    | AdditionEntry
    | PupillaryDistanceEntry
    | PupilsEntry
    | VertexEntry
    | DropsEntry
    | DarkEntry
    | EstimateEntry
    | NottEntry
    | AfferentDefectEntry
    | ConvergenceEntry
    | AgeEntry
    | AutorefractionEntry
    | OverRefractionEntry
    | StepEntry
    | KeratometryEntry
    | DeviationEntry
    | PrismEntry
    | StartEntry,
    Field(discriminator="kind"),
]

ENTRY: Final[TypeAdapter[Entry]] = TypeAdapter(Entry)
KINDS: Final[tuple[type[BaseEntry], ...]] = get_args(get_args(Entry)[0])
KIND_SAID: Final[dict[type[say.Model], type[BaseEntry]]] = {kind.said: kind for kind in KINDS}
"""Kind of meaning -> kind of entry that it makes."""


def is_enterable(meaning: say.Meaning) -> bool:
    """Whether a meaning makes an entry by itself."""
    return type(meaning) in KIND_SAID


def from_meaning(meaning: say.Meaning, context: Context) -> "Entry | Question":
    """The complete entry that a meaning makes now, or what must be asked first."""
    kind = KIND_SAID[type(meaning)]
    try:
        entry: Entry = kind.from_meaning(meaning, context)  # type: ignore[attr-defined]
    except NeedsAnswer as needed:
        return needed.question
    return entry


__all__ = [
    "AXIS_OFF_STREAK",
    "ENTRY",
    "KINDS",
    "KIND_SAID",
    "RIGHT_WORD",
    "START_WORDS",
    "TECHNIQUES",
    "AcuityEntry",
    "AdditionEntry",
    "AfferentDefectEntry",
    "AgeEntry",
    "Allowance",
    "AutorefractionEntry",
    "BaseEntry",
    "BaseFinding",
    "ConditionEntry",
    "Context",
    "ConvergenceEntry",
    "CylinderLens",
    "DarkEntry",
    "DeviationEntry",
    "DistanceEntry",
    "DropsEntry",
    "Dryness",
    "EarlierResult",
    "EarlierVisits",
    "Entry",
    "EstimateEntry",
    "EyeEntry",
    "HabitEntry",
    "InPlace",
    "KeratometryEntry",
    "LensesEntry",
    "LookUp",
    "Mirror",
    "MirrorEntry",
    "NoteEntry",
    "NottEntry",
    "OverRefractionEntry",
    "PassEntry",
    "PlaceEntry",
    "PrescriptionEntry",
    "PrismEntry",
    "PupillaryDistanceEntry",
    "PupilsEntry",
    "Quantity",
    "Question",
    "ReadingEntry",
    "ReflexEntry",
    "SpectaclesEntry",
    "StartEntry",
    "StartSource",
    "StepEntry",
    "SubjectiveEntry",
    "TechniqueEntry",
    "TrialLenses",
    "Unit",
    "VertexEntry",
    "WorkingLensEntry",
    "across_deg",
    "counts_for",
    "exact_d",
    "eye_words",
    "from_meaning",
    "is_enterable",
    "is_usual",
    "no_record",
    "other_eye",
    "place_words",
]
