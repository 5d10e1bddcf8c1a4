"""What a lesson came to: goal, lenses, time, and how far the result is from the truth."""

from datetime import UTC, datetime
from typing import Annotated, Literal, Self

from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, field_validator

from voicelog.optics import SpheroCylinder
from voicelog.practice.exercise import Technique
from voicelog.practice.judging import judge
from voicelog.practice.kinds import NAMES, kind_named
from voicelog.practice.lesson import Lesson
from voicelog.practice.mistakes import Code
from voicelog.practice.telling_order import most_telling_lenses

Finite = Annotated[float, Field(allow_inf_nan=False)]
Count = Annotated[int, Field(ge=0)]


class _Whole(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Written(_Whole):
    """A refraction as minus-cylinder form: dioptres and degrees, no axis without a cylinder."""

    sphere_d: Finite
    cylinder_d: Finite
    axis_deg: Finite | None

    @classmethod
    def of(cls, lens: SpheroCylinder) -> Self:
        """A lens in this form."""
        form = lens.minus_cylinder()
        return cls(sphere_d=form.sphere_d, cylinder_d=form.cylinder_d, axis_deg=form.axis_deg)

    @property
    def lens(self) -> SpheroCylinder:
        """The lens itself."""
        return SpheroCylinder(self.sphere_d, self.cylinder_d, self.axis_deg)


class Apart(_Whole):
    """Logged less true: the minus-cylinder forms, the power vector, and the most in any meridian; dioptres, degrees."""

    sphere_d: Finite
    cylinder_d: Finite
    axis_deg: Finite | None
    m_d: Finite
    j0_d: Finite
    j45_d: Finite
    length_d: Finite
    largest_d: Finite


class LessonResult(_Whole):
    """One lesson. `kind` is empty for an eye of no kind; goals are None then.

    `telling_lenses`: lenses that the most telling order takes; None where it comes to no end. `apart` and `found` are
    None where the log has no result. `mistake` is the first one's code.
    """

    version: Literal[1] = 1
    at: AwareDatetime
    kind: str
    technique: Technique
    eye: Literal["right", "left"]
    seed: int
    distance_cm: Finite
    lenses: Count
    seconds: Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
    telling_lenses: Count | None
    truth: Written
    found: Written | None
    apart: Apart | None
    close: bool
    mistake: Code | None

    @field_validator("kind")
    @classmethod
    def _is_known(cls, name: str) -> str:
        if name and name not in NAMES:
            raise ValueError("no kind of exercise")
        return name

    @property
    def minutes(self) -> float:
        """How long it took."""
        return self.seconds / 60.0

    @property
    def goal_lenses(self) -> int | None:
        """Lenses in which this kind should be done."""
        return kind_named(self.kind).goal_lenses if self.kind else None

    @property
    def goal_minutes(self) -> float | None:
        """Minutes in which this kind should be done."""
        return kind_named(self.kind).goal_minutes if self.kind else None


def result_of(lesson: Lesson, at: datetime | None = None) -> LessonResult:
    """What a lesson came to, as it stands. Takes about a second: the most telling order is worked out."""
    exercise = lesson.exercise
    found = judge(exercise, lesson.state, lesson.looks_before)
    apart = found.difference
    return LessonResult(
        at=at or datetime.now(UTC),
        kind=exercise.kind,
        technique=exercise.technique,
        eye=exercise.eye,
        seed=exercise.seed,
        distance_cm=exercise.distance_cm,
        lenses=lesson.lenses_tried,
        seconds=round(lesson.seconds, 1),
        telling_lenses=most_telling_lenses(exercise),
        truth=Written.of(found.truth),
        found=Written.of(found.found) if found.found else None,
        apart=Apart(
            sphere_d=apart.sphere_d,
            cylinder_d=apart.cylinder_d,
            axis_deg=apart.axis_deg,
            m_d=apart.vector.m_d,
            j0_d=apart.vector.j0_d,
            j45_d=apart.vector.j45_d,
            length_d=apart.blur_strength_d,
            largest_d=apart.largest_power_d,
        )
        if apart
        else None,
        close=found.close,
        mistake=found.mistake.code if found.mistake else None,
    )
