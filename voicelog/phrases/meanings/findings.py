"""What is found beside retinoscopy, and near retinoscopy."""

from typing import Literal

from pydantic import Field

from voicelog.phrases.meanings.base import Eyes, Lens, Model, OneEye, Power, Where


class Snellen(Model):
    """A Snellen fraction as said: the test distance in metres or feet, and the line, in the same unit."""

    metres: float | None = None
    feet: float | None = None
    line: float


class AcuityValue(Model):
    """An acuity in the one notation it was said in. `letters`: how many more (or, negative, fewer) than the line."""

    snellen: Snellen | None = None
    letters: int | None = None
    decimal: float | None = None
    logmar: float | None = None
    category: (
        Literal[
            "counting_fingers",
            "hand_movements",
            "light_perception",
            "no_light_perception",
            "fixes_and_follows",
            "central_steady_maintained",
            "central_steady_unmaintained",
        ]
        | None
    ) = None
    at_cm: float | None = None
    """The test distance of counting fingers or of a near chart, in centimetres."""
    n_points: float | None = None
    """Size of near print in points (N5, N8); the acuity is a near one then."""
    cycles_per_degree: float | None = None
    """The finest stripes that an infant looked at; they are seen otherwise than letters are, and never converted."""
    jaeger: int | None = None
    """Size of near print by Jaeger's numbers (J1); sizes differ from printer to printer and are never converted."""
    partial: bool = False
    """Not all letters of the line."""
    less: bool = False
    """Less than the line that is named."""

    @property
    def is_near(self) -> bool:
        """Whether it was read from a near chart."""
        return self.n_points is not None or self.jaeger is not None


class Acuity(Model):
    """An acuity of an eye (None: the eye in hand), without lenses, with the own ones, or with the refined result."""

    kind: Literal["acuity"] = "acuity"
    eye: Eyes | None = None
    correction: Literal["unaided", "aided", "refined", "pinhole"] | None = None
    value: AcuityValue


class PupilsDistance(Model):
    """The distance between the pupils in millimetres, both together or each from the middle of the nose.

    `at` None: not said, which is for far.
    """

    kind: Literal["pupils_distance"] = "pupils_distance"
    at: Literal["far", "near"] | None = None
    both_mm: float | None = None
    right_mm: float | None = None
    left_mm: float | None = None


class Pupils(Model):
    """The size of a pupil in millimetres (`eye` None: the eye in hand), or how it or the two look."""

    kind: Literal["pupils"] = "pupils"
    eye: Eyes | None = None
    size_mm: float | None = None
    look: (
        Literal["equal", "unequal", "equal_reactive", "sluggish", "fixed_dilated", "dilated", "miosed"] | None
    ) = None


class AfferentDefect(Model):
    """A relative afferent pupil defect (`eye` None: of the eye in hand), or (`present` false) that there is none."""

    kind: Literal["afferent_defect"] = "afferent_defect"
    eye: OneEye | None = None
    present: bool


class Convergence(Model):
    """The near point of convergence in centimetres; `recovery_cm` where it was said."""

    kind: Literal["convergence"] = "convergence"
    break_cm: float
    recovery_cm: float | None = None


class AgeSaid(Model):
    """An age in whole years, in whole months, or both."""

    years: int | None = None
    months: int | None = None


class PatientAge(Model):
    """How old the patient is, as it was said; never a birth date."""

    kind: Literal["patient_age"] = "patient_age"
    age: AgeSaid


class Autorefraction(Model):
    """What an instrument measured for one eye (None: the eye in hand)."""

    kind: Literal["autorefraction"] = "autorefraction"
    eye: Eyes | None = None
    lens: Lens


class OverRefraction(Model):
    """What was found over the lenses worn, of one eye (None: the eye in hand); never a reading."""

    kind: Literal["over_refraction"] = "over_refraction"
    eye: Eyes | None = None
    lens: Lens


class Spectacles(Model):
    """What the previous spectacles measure for one eye (None: the eye in hand)."""

    kind: Literal["spectacles"] = "spectacles"
    eye: Eyes | None = None
    lens: Lens
    addition: Power | None = None


class Refined(Model):
    """The subjective result of one eye (None: the eye in hand), or the part of it that is named."""

    kind: Literal["refined"] = "refined"
    eye: Eyes | None = None
    lens: Lens
    acuity: AcuityValue | None = None
    """The acuity that it gives, where it was said with it."""


class Addition(Model):
    """The near addition of an eye; None, as usual: of both. `near`: what is read with it."""

    kind: Literal["addition"] = "addition"
    eye: Eyes | None = None
    power: Power
    near: AcuityValue | None = None


class Vertex(Model):
    """The distance from the back of the trial lens to the eye, in millimetres."""

    kind: Literal["vertex"] = "vertex"
    vertex_mm: float


class Clock(Model):
    """A time of day as said."""

    hour: int
    minute: int


Agent = Literal[
    "tropicamide",
    "cyclopentolate",
    "atropine",
    "homatropine",
    "phenylephrine",
    "proxymetacaine",
    "oxybuprocaine",
    "tetracaine",
    "other",
]


class Drops(Model):
    """Drops that were given. `clock` None: when it was said; `strength_percent` and `eye` None: not said."""

    kind: Literal["drops"] = "drops"
    agent: Agent
    strength_percent: float | None = None
    eye: Eyes | None = None
    clock: Clock | None = None
    minutes_ago: int | None = None


Age = Literal["infant", "child", "adult"]


class Dark(Model):
    """Neutral in near retinoscopy in the dark: the lenses of the whole eye, or (`where`) along one meridian.

    The age decides the adjustment; it is always said.
    """

    kind: Literal["dark"] = "dark"
    age: Age
    where: Where | None = None
    lens: Lens


class Estimate(Model):
    """The lens that neutralises in the monocular estimate of accommodation (`eye` None: the eye in hand)."""

    kind: Literal["estimate"] = "estimate"
    eye: Eyes | None = None
    power: Power


class Dynamic(Model):
    """Dynamic retinoscopy after Nott: distances of the target and of neutral, in centimetres."""

    kind: Literal["dynamic"] = "dynamic"
    eye: OneEye | None = None
    target_cm: float = Field(alias="target")
    neutral_cm: float = Field(alias="neutral")


Finding = (
    Acuity
    | PupilsDistance
    | Pupils
    | AfferentDefect
    | Convergence
    | Spectacles
    | Refined
    | Addition
    | Vertex
    | Drops
    | Dark
    | Estimate
    | Dynamic
    | PatientAge
    | Autorefraction
    | OverRefraction
)
"""Every finding beside the retinoscopy itself; each can be put right by a correction."""
