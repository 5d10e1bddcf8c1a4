"""Meanings: what a phrase says, typed, with units; the only thing that leaves this package.

Powers are dioptres as they are marked on the lens, angles are whole degrees (TABO / ISO 8429), distances are
centimetres as spoken. Nothing here is checked for plausibility: a meaning is what was said. In JSON a power is a
number; a power whose sign or size was not clear is an object that says so, and is never a number.

Everything else finds the kinds here; a new one has its class in one of the modules and its name in `Meaning` below.
"""

from typing import Annotated

from pydantic import Field, TypeAdapter

from voicelog.phrases.meanings.answers import (
    Answer,
    Digit,
    Distance,
    LooseAxis,
    LoosePower,
    LooseSign,
    LooseWhere,
    Scope,
)
from voicelog.phrases.meanings.base import Cylinder, EyeNamed, Eyes, Lens, Model, Naming, OneEye, Power, Where
from voicelog.phrases.meanings.clinic import ClinicFinding, Deviation, Keratometry, Prism, SubjectiveStep
from voicelog.phrases.meanings.corrections import CORRECTABLE_KINDS, Change, Correctable, Correction, NotBut
from voicelog.phrases.meanings.findings import (
    Acuity,
    AcuityValue,
    Addition,
    AfferentDefect,
    Age,
    Agent,
    AgeSaid,
    Autorefraction,
    Clock,
    Convergence,
    Dark,
    Drops,
    Dynamic,
    Estimate,
    Finding,
    OverRefraction,
    PatientAge,
    Pupils,
    PupilsDistance,
    Refined,
    Snellen,
    Spectacles,
    Vertex,
)
from voicelog.phrases.meanings.orders import (
    Claim,
    Keep,
    Lesson,
    LessonOrder,
    Move,
    Note,
    Plain,
    Reference,
    Scratch,
    Swap,
    Tell,
)
from voicelog.phrases.meanings.retinoscopy import (
    Condition,
    EstimateStart,
    Eye,
    Habit,
    Lenses,
    Manner,
    Mirror,
    Motion,
    Pass,
    Place,
    Reading,
    Reflex,
    ReflexLook,
    SameDistance,
    Technique,
    WorkingDistance,
    WorkingLens,
)

Meaning = Annotated[
    Eye
    | WorkingDistance
    | SameDistance
    | WorkingLens
    | Reading
    | Lenses
    | Reflex
    | Scope
    | Claim
    | Lesson
    | Correction
    | Change
    | NotBut
    | Plain
    | Place
    | Scratch
    | Keep
    | Move
    | Swap
    | Habit
    | Condition
    | Note
    | Tell
    | Answer
    | LoosePower
    | LooseAxis
    | LooseSign
    | LooseWhere
    | Mirror
    | Finding
    | ClinicFinding
    | Pass
    | Technique
    | EstimateStart
    | Digit
    | Distance
    | Reference,
    Field(discriminator="kind"),
]

MEANING: TypeAdapter[Meaning] = TypeAdapter(Meaning)


def is_command(meaning: Model | None) -> bool:
    """Whether it is something for the log to do now, and nothing to enter; an open question then stays open."""
    entering = ("wrong_eye", "redo")
    return isinstance(meaning, Tell | Claim | Reference) or (
        isinstance(meaning, Plain) and meaning.kind not in entering
    )


__all__ = [
    "CORRECTABLE_KINDS",
    "MEANING",
    "Acuity",
    "AcuityValue",
    "Addition",
    "AfferentDefect",
    "Age",
    "AgeSaid",
    "Agent",
    "Answer",
    "Autorefraction",
    "Change",
    "Claim",
    "Clock",
    "Condition",
    "Convergence",
    "Correctable",
    "Correction",
    "Cylinder",
    "Dark",
    "Deviation",
    "Digit",
    "Distance",
    "Drops",
    "Dynamic",
    "Estimate",
    "EstimateStart",
    "Eye",
    "EyeNamed",
    "Eyes",
    "Habit",
    "Keep",
    "Keratometry",
    "Lens",
    "Lenses",
    "Lesson",
    "LessonOrder",
    "LooseAxis",
    "LoosePower",
    "LooseSign",
    "LooseWhere",
    "Manner",
    "Meaning",
    "Mirror",
    "Model",
    "Motion",
    "Move",
    "Naming",
    "NotBut",
    "Note",
    "OneEye",
    "OverRefraction",
    "Pass",
    "PatientAge",
    "Place",
    "Plain",
    "Power",
    "Prism",
    "Pupils",
    "PupilsDistance",
    "Reading",
    "Reference",
    "Refined",
    "Reflex",
    "ReflexLook",
    "SameDistance",
    "Scope",
    "Scratch",
    "Snellen",
    "Spectacles",
    "SubjectiveStep",
    "Swap",
    "Technique",
    "Tell",
    "Vertex",
    "Where",
    "WorkingDistance",
    "WorkingLens",
    "is_command",
]
