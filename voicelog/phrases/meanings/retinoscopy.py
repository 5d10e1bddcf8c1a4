"""What is said of retinoscopy: eye, distance, lenses, what the reflex does, and what holds for all readings."""

from typing import Literal

from pydantic import Field

from voicelog.phrases.meanings.base import EyeNamed, Lens, Model, Naming, Power, Where

Motion = Literal["with", "against", "neutral", "not_neutral"]
"""What the reflex did; `not_neutral` tells that it moved ("nearly neutral", "not neutral") and not which way."""

Manner = Literal[
    "still", "slight", "slow", "fast", "bright", "dull", "dim", "narrow", "broad", "large", "hard to call"
]


class Eye(Model):
    """Which eye comes now. `side_only`: "right" alone, which may as well be a word that tells nothing.

    `beside`: named with a word that joins it to what was said before ("for the left eye").
    """

    kind: Literal["eye"] = "eye"
    eye: EyeNamed
    side_only: bool = False
    beside: bool = False


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
    "irregular",
]


class Reflex(Model):
    """How the reflex looks, in one meridian or altogether."""

    kind: Literal["reflex"] = "reflex"
    reflex: ReflexLook
    where: Where | None = None
    eye: EyeNamed | None = None


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


class Mirror(Model):
    """The sleeve's setting; a concave mirror turns every motion round."""

    kind: Literal["mirror"] = "mirror"
    mirror: Literal["plane", "concave"]


class Pass(Model):
    """Another retinoscopy of the eye in hand begins; `number` if it was said."""

    kind: Literal["pass"] = "pass"
    number: int | None = None


class Technique(Model):
    """The technique that is meant to be used."""

    kind: Literal["technique"] = "technique"
    technique: Literal["spheres", "sphere_cylinder", "cylinders"]


class EstimateStart(Model):
    """What the estimate of all looks is to begin from: nothing, the spectacles, the last visit's result, the age."""

    kind: Literal["estimate_start"] = "estimate_start"
    source: Literal["nothing", "spectacles", "visit", "age"]
