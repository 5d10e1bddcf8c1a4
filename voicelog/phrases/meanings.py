"""Meanings: what a phrase says, typed, with units; the only thing that leaves this package.

Powers are dioptres as they are marked on the lens, angles are whole degrees (TABO / ISO 8429), distances are
centimetres as spoken. Nothing here is checked for plausibility: a meaning is what was said. In JSON a power is a
number; a power whose sign or size was not clear is an object that says so, and is never a number.
"""

from collections.abc import Mapping
from typing import Annotated, Any, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, model_serializer, model_validator


class Model(BaseModel):
    """Frozen, and strict about unknown fields, so that a misspelt one is an error and not a loss."""

    model_config = ConfigDict(frozen=True, extra="forbid", populate_by_name=True, serialize_by_alias=True)


class Power(Model):
    """A spoken power: size without sign (None when unclear, as in "two five"), and sign (None when not said).

    `spelled`: said digit by digit ("one three"), to be asked about before it counts.
    """

    size_d: float | None
    sign: Literal[1, -1] | None
    spelled: bool = False

    @property
    def dioptres(self) -> float | None:
        """The signed power in dioptres, or None when size or sign is not known. Zero needs no sign."""
        if self.size_d is None:
            return None
        if self.size_d == 0:
            return 0.0
        return None if self.sign is None else self.sign * self.size_d

    def with_sign(self, sign: Literal[1, -1]) -> "Power":
        """The same size with the sign that was missing."""
        return Power(size_d=self.size_d, sign=sign)

    @model_serializer
    def _as_json(self) -> Any:
        if self.dioptres is not None and not self.spelled:
            return self.dioptres
        return {"size": self.size_d, "sign": self.sign, **({"spelled": True} if self.spelled else {})}

    @model_validator(mode="before")
    @classmethod
    def _from_json(cls, data: Any) -> Any:
        if isinstance(data, int | float):
            return {"size_d": abs(data), "sign": None if data == 0 else 1 if data > 0 else -1}
        if isinstance(data, Mapping) and "size" in data:
            return {"size_d": data["size"], "sign": data["sign"], "spelled": data.get("spelled", False)}
        return data


class Cylinder(Model):
    """A cylinder lens; the axis is None when it was not said."""

    power: Power
    axis_deg: int | None = Field(default=None, alias="axis")


class Lens(Model):
    """Lenses named in a line.

    `on_top`: a change to what is before the eye ("another half", "up a quarter"), never a total. `same`: the lenses of
    the reading before ("horizontal the same"); nothing else is named then.
    """

    sphere: Power | None = None
    cylinder: Cylinder | None = None
    on_top: bool = False
    same: bool = False


Naming = Literal["streak", "meridian"]


class Where(Model):
    """A place as named: by the streak, by the meridian of power, or (None) by whichever is the examiner's habit.

    Either an angle, or `which`: the meridian across the one in hand, or both principal ones.
    """

    names: Naming | None
    angle_deg: int | None = Field(default=None, alias="angle")
    which: Literal["other", "both"] | None = None

    @model_validator(mode="after")
    def _one_of_the_two(self) -> "Where":
        if (self.angle_deg is None) == (self.which is None):
            raise ValueError("a place is an angle or one that is named by the place in hand")
        return self


Motion = Literal["with", "against", "neutral", "not_neutral"]
"""What the reflex did; `not_neutral` tells that it moved ("nearly neutral", "not neutral") and not which way."""

OneEye = Literal["right", "left"]
Eyes = Literal["right", "left", "both"]
EyeNamed = Literal["right", "left", "both", "other"]

Manner = Literal[
    "still", "slight", "slow", "fast", "bright", "dull", "dim", "narrow", "broad", "large", "hard to call"
]


class Eye(Model):
    """Which eye comes now. `side_only`: "right" alone, which may as well be a word that tells nothing."""

    kind: Literal["eye"] = "eye"
    eye: EyeNamed
    side_only: bool = False


class WorkingDistance(Model):
    """The distance from eye to retinoscope, in centimetres; `eye` where it was said for one eye."""

    kind: Literal["working_distance"] = "working_distance"
    distance_cm: float = Field(alias="distance")
    eye: EyeNamed | None = None


class SameDistance(Model):
    """The working distance is that of the other eye."""

    kind: Literal["same_distance"] = "same_distance"


class WorkingLens(Model):
    """The working-distance lens is in or out; its power if it was said.

    `throughout`: it was so for the readings before as well ("the one fifty was in the whole time").
    """

    kind: Literal["working_lens"] = "working_lens"
    position: Literal["in", "out"]
    power: Power | None = None
    eye: EyeNamed | None = None
    throughout: bool = False


class Reading(Model):
    """A motion seen in one meridian. `where` None: the meridian in hand; `lens` None: the lenses in place.

    `eye` None: the eye in hand. `between`: a span where one power was wanted. `again`: said to replace an earlier one.
    `all_round`: one of two meridians that were said in one, with one lens.
    `taken`: the lens is one that was looked through ("I'll take three and a quarter").
    """

    kind: Literal["reading"] = "reading"
    eye: EyeNamed | None = None
    where: Where | None = None
    motion: Motion
    lens: Lens | None = None
    between: tuple[Power, Power] | None = None
    again: bool = False
    all_round: bool = False
    taken: bool = False
    approximate: bool = False
    manner: tuple[Manner, ...] = ()


class Lenses(Model):
    """Lenses put before the eye, or taken away (`lens`: the one put in last).

    `instead_of`: the lens that was named as taken out for it.
    """

    kind: Literal["lenses"] = "lenses"
    lens: Lens | None = None
    remove: Literal["cylinder", "lens", "all"] | None = None
    instead_of: Power | None = None


class Place(Model):
    """The streak is laid somewhere, and nothing is said of the reflex yet ("streak vertical")."""

    kind: Literal["place"] = "place"
    where: Where


ReflexLook = Literal[
    "scissors",
    "dull",
    "split",
    "changing",
    "none",
    "unclear",
    "bright",
    "broad",
    "narrow",
    "fast",
    "slow",
    "skew",
    "oil_droplet",
    "swirling",
    "white",
    "good_red",
    "good",
    "poor",
    "crisp",
    "unsteady",
    "shadow",
    "opacity",
    "no_break",
    "even",
]


class Reflex(Model):
    """How the reflex looks, in one meridian or altogether."""

    kind: Literal["reflex"] = "reflex"
    reflex: ReflexLook
    where: Where | None = None
    eye: EyeNamed | None = None


class Change(Model):
    """One logged meridian gets another power. `wrong`: the power it is to replace, if it was said."""

    kind: Literal["change"] = "change"
    where: Where
    power: Power
    eye: EyeNamed | None = None
    wrong: Power | None = None


class NotBut(Model):
    """The power `wrong` in the last entry is to be `right`."""

    kind: Literal["not_but"] = "not_but"
    wrong: Power
    right: Power


class Plain(Model):
    """A phrase that says nothing but itself."""

    kind: Literal[
        "wrong_eye",
        "pause",
        "resume",
        "end_note",
        "redo",
        "start",
        "finish",
        "next_patient",
        "discard",
        "louder",
        "quieter",
        "show_everything",
        "done",
        "save",
        "print",
        "mute",
        "read_back_off",
        "read_back_on",
    ]


class Scratch(Model):
    """Takes back the last entries (`count`), or the last one of a place or an eye ("delete the vertical")."""

    kind: Literal["scratch"] = "scratch"
    count: int = 1
    where: Where | None = None
    eye: OneEye | None = None
    all_of_eye: bool = False


class Keep(Model):
    """What was taken back of a place counts after all ("no, keep the vertical")."""

    kind: Literal["keep"] = "keep"
    where: Where


class Move(Model):
    """Entries belong to another eye: the last one, the last two, or all since the eye was named."""

    kind: Literal["move"] = "move"
    eye: EyeNamed
    scope: Literal["last", "two", "all"] = "last"


class Swap(Model):
    """Two values were said the wrong way round: of the two meridians in hand, or of the two eyes."""

    kind: Literal["swap"] = "swap"
    what: Literal["meridians", "eyes"]


class Habit(Model):
    """What the examiner names by a bare direction: the streak, or the meridian of power."""

    kind: Literal["habit"] = "habit"
    naming: Naming
    throughout: bool = False


class Condition(Model):
    """Whether the readings that follow are without drops or under cycloplegia."""

    kind: Literal["condition"] = "condition"
    condition: Literal["dry", "wet"]
    eye: EyeNamed | None = None


class Note(Model):
    """Words to be kept as they were heard; `text` None: all until "end note"."""

    kind: Literal["note"] = "note"
    text: str | None = None


class Tell(Model):
    """A question to the log. `where` and `eye` narrow it."""

    kind: Literal["tell"] = "tell"
    say: Literal[
        "last",
        "right",
        "left",
        "missing",
        "findings",
        "comparison",
        "remarks",
        "reading",
        "net",
        "cylinder",
        "equivalent",
        "other_form",
        "plus_form",
        "minus_form",
        "distance",
        "everything",
        "question",
        "state",
        "dry",
    ]
    where: Where | None = None
    eye: OneEye | None = None


class Scope(Model):
    """How much is meant, asked after "which of them?": the last entry, the last two, or all of the eye in hand."""

    kind: Literal["scope"] = "scope"
    scope: Literal["last", "two", "all"]


class Claim(Model):
    """A net result as the examiner says it ("net is plus one fifty minus one axis ten"): compared, never entered."""

    kind: Literal["claim"] = "claim"
    lens: Lens


class Answer(Model):
    """An answer to what the log asks; `leave`: it stays without a value."""

    kind: Literal["answer"] = "answer"
    answer: Literal["yes", "no", "again", "leave", "same"]


class LoosePower(Model):
    """A power by itself: an answer, or part of a correction."""

    kind: Literal["power"] = "power"
    power: Power


class LooseAxis(Model):
    """An axis by itself."""

    kind: Literal["axis"] = "axis"
    axis_deg: int = Field(alias="axis")


class LooseSign(Model):
    """A sign by itself."""

    kind: Literal["sign"] = "sign"
    sign: Literal["plus", "minus"]


class LooseWhere(Model):
    """A place by itself, in a correction."""

    kind: Literal["where"] = "where"
    where: Where


class Mirror(Model):
    """The sleeve's setting; a concave mirror turns every motion round."""

    kind: Literal["mirror"] = "mirror"
    mirror: Literal["plane", "concave"]


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


class Pass(Model):
    """Another retinoscopy of the eye in hand begins; `number` if it was said."""

    kind: Literal["pass"] = "pass"
    number: int | None = None


class Technique(Model):
    """The technique that is meant to be used."""

    kind: Literal["technique"] = "technique"
    technique: Literal["spheres", "sphere_cylinder", "cylinders"]


class Digit(Model):
    """One digit, when only digits are listened for."""

    kind: Literal["digit"] = "digit"
    digit: int


class Distance(Model):
    """A distance by itself, in centimetres, when only distances are listened for."""

    kind: Literal["distance"] = "distance"
    distance_cm: float = Field(alias="distance")


Correctable = Annotated[
    Reading
    | Lenses
    | LoosePower
    | LooseAxis
    | LooseSign
    | WorkingDistance
    | WorkingLens
    | Eye
    | LooseWhere
    | Acuity
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
    | Dynamic,
    Field(discriminator="kind"),
]

CORRECTABLE_KINDS = frozenset(
    kind.model_fields["kind"].default for kind in get_args(get_args(Correctable)[0])
)


class Correction(Model):
    """The last entry, or the one that `entry` names, is to be as `entry` says; `wrong`: the power it was to replace.

    `count`: so many of the last entries. `eye`: of this eye, where it was said, with `all_of_eye` all read of it.
    """

    kind: Literal["correction"] = "correction"
    entry: Correctable
    wrong: Power | None = None
    wrong_axis_deg: int | None = None
    count: int = 1
    eye: EyeNamed | None = None
    all_of_eye: bool = False


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
    | Acuity
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
    | Pass
    | Technique
    | Digit
    | Distance,
    Field(discriminator="kind"),
]

MEANING: TypeAdapter[Meaning] = TypeAdapter(Meaning)


def is_command(meaning: Model | None) -> bool:
    """Whether it is something for the log to do now, and nothing to enter; an open question then stays open."""
    entering = ("wrong_eye", "redo")
    return isinstance(meaning, Tell | Claim) or (isinstance(meaning, Plain) and meaning.kind not in entering)
