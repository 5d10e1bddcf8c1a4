"""What a clinic finds around the reflex: steps of the subjective refraction, the cornea, how the eyes stand, prisms."""

from typing import Literal

from pydantic import Field

from voicelog.phrases.meanings.base import Eyes, Model, OneEye, Power
from voicelog.phrases.meanings.findings import AcuityValue

Step = Literal["fogged", "cross_cylinder", "duochrome", "balance", "end_point"]


class SubjectiveStep(Model):
    """A step of the subjective refraction, of one eye (None: the eye in hand); never a lens before the eye.

    `power`: the fog, the cylinder's power, or the sphere of the end point. `value`: the acuity fogged to, or reached.
    `look`: what the patient answered, or how the step ended.
    """

    kind: Literal["subjective_step"] = "subjective_step"
    step: Step
    eye: Eyes | None = None
    power: Power | None = None
    axis_deg: int | None = Field(default=None, alias="axis")
    value: AcuityValue | None = None
    look: (
        Literal[
            "red", "green", "equal", "confirmed", "right_clearer", "left_clearer", "reached", "maximum_plus"
        ]
        | None
    ) = None


class Keratometry(Model):
    """Curvature of the cornea along one or two meridians (degrees), in dioptres or millimetres (None: not said).

    `named`: what the first was called, where it was called flat or steep.
    """

    kind: Literal["keratometry"] = "keratometry"
    eye: Eyes | None = None
    one: float
    one_deg: int | None = None
    other: float | None = None
    other_deg: int | None = None
    unit: Literal["dioptres", "mm"] | None = None
    named: Literal["flat", "steep"] | None = None


class Deviation(Model):
    """How the eyes stand to each other by a cover test: direction, latent or manifest, size in prism dioptres."""

    kind: Literal["deviation"] = "deviation"
    direction: Literal["exo", "eso", "hyper", "hypo", "ortho"]
    type: Literal["phoria", "tropia"] | None = None
    manner: Literal["alternating", "intermittent"] | None = None
    eye: OneEye | None = None
    at: Literal["far", "near"] | None = None
    size_pd: float | None = None


class Prism(Model):
    """A prism before one eye or each, in prism dioptres, by the direction of its base."""

    kind: Literal["prism"] = "prism"
    eye: Eyes | None = None
    size_pd: float
    base: Literal["in", "out", "up", "down"]


ClinicFinding = SubjectiveStep | Keratometry | Deviation | Prism
"""What is measured beside the reflex; each can be put right by a correction."""
