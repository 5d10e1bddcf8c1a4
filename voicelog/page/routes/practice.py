"""Practice: its page, the lesson as data, setting an exercise, and what is said by hand."""

from datetime import UTC, datetime
from random import SystemRandom
from typing import Annotated, Any, Literal

from fastapi import APIRouter, HTTPException, Query, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response

from voicelog.page import rendering
from voicelog.page.context import ThisPage
from voicelog.page.lessons import begin, lesson_data, lesson_of
from voicelog.page.problems import problem
from voicelog.page.progressing import ProgressView, progress_view
from voicelog.page.watching import show_of
from voicelog.practice.errors import PracticeError
from voicelog.practice.exercise import SEEDS, USUAL_DISTANCE_CM, Exercise
from voicelog.practice.eye import LARGEST_TREMOR_D, EyeModel, parse_refraction, random_refraction
from voicelog.practice.keeping import keep_lesson
from voicelog.practice.kinds import KINDS, Kind, kind_named
from voicelog.practice.off_axis import FURTHEST_DEG
from voicelog.practice.progress import ProgressError, kept
from voicelog.practice.pupil import OLDEST, YOUNGEST, pupil_mm_at
from voicelog.practice.reflex import PUPIL_MM
from voicelog.practice.returning import returns
from voicelog.settings import Settings

router = APIRouter()

Unsteady = Annotated[float, Field(ge=0, le=LARGEST_TREMOR_D, allow_inf_nan=False)]


class NewExercise(BaseModel):
    """What is to be practised. `refraction` as it is written, none: random; `seed` none: a new one.

    `kind` names a graded exercise, "next" the one whose turn it is; it says what eye it is, so nothing else may.
    """

    model_config = ConfigDict(extra="forbid")

    kind: str | None = None
    technique: Literal["spheres", "sphere-cylinder", "cylinders"] = "spheres"
    eye: Literal["right", "left"] = "right"
    refraction: Annotated[str, Field(max_length=60)] | None = None
    seed: Annotated[int, Field(ge=0, lt=SEEDS)] | None = None
    reflex: Literal["plain", "dull", "scissors"] = "plain"
    tremor_d: Unsteady = 0.0
    noise_d: Unsteady = 0.0
    mirror: Literal["plane", "concave"] = "plane"
    working_lens: Literal["in", "out"] = "out"
    child: bool = False
    age_years: Annotated[float, Field(ge=YOUNGEST, le=OLDEST, allow_inf_nan=False)] | None = None
    off_axis_deg: Annotated[float, Field(ge=-FURTHEST_DEG, le=FURTHEST_DEG, allow_inf_nan=False)] = 0.0


class PracticeLine(BaseModel):
    """One line, as it would be typed."""

    line: Annotated[str, Field(min_length=1, max_length=200, pattern=r"\S")]


@router.get("/practice", include_in_schema=False)
def practice(request: Request, page: ThisPage) -> Response:
    """The practice page."""
    return rendering.page(request, "practice.html", kind="practice", kinds=KINDS)


@router.get("/practice/progress", include_in_schema=False)
def progress(request: Request, page: ThisPage) -> Response:
    """What the learner's lessons came to."""
    found, problem = ProgressView(()), ""
    try:
        found = progress_view(kept(), datetime.now(UTC))
    except ProgressError as error:
        problem = str(error)
    return rendering.page(request, "progress.html", kind="practice", progress=found, problem=problem)


@router.get("/api/practice", tags=["practice"])
def read(page: ThisPage, after: Annotated[int, Query(ge=0)] = 0) -> dict[str, Any]:
    """The lesson, with its turns from number `after` on; the truth once it has ended."""
    return lesson_data(lesson_of(page), after) | {"watch": show_of(page) is not None}


@router.post(
    "/api/practice",
    tags=["practice"],
    responses={400: problem("the refraction cannot be read, or the kind and the eye do not go together")},
)
def set_exercise(wanted: NewExercise, page: ThisPage) -> dict[str, Any]:
    """Begin a new lesson; the one before is gone."""
    return lesson_data(begin(page, exercise_of(wanted, page.settings), page.settings))


def exercise_of(wanted: NewExercise, settings: Settings) -> Exercise:
    """The exercise that is wanted, with a new seed where none was given. Raises PracticeError, ProgressError."""
    seed = SystemRandom().randrange(SEEDS) if wanted.seed is None else wanted.seed
    kind = _kind(wanted)
    return Exercise(
        _model(wanted, seed)
        if kind is None
        else kind.model(seed, tremor_d=wanted.tremor_d, noise_d=wanted.noise_d),
        seed,
        wanted.eye,
        settings.working_distance_cm or USUAL_DISTANCE_CM,
        wanted.working_lens == "in",
        wanted.mirror == "concave",
        wanted.technique,
        wanted.off_axis_deg,
        "" if kind is None else kind.name,
    )


def _kind(wanted: NewExercise) -> Kind | None:
    if wanted.kind is None:
        return None
    if wanted.refraction or wanted.reflex != "plain" or wanted.child or wanted.age_years is not None:
        raise PracticeError("a kind says what eye it is: leave refraction, reflex and patient away")
    if wanted.kind == "next":
        return returns(kept().lessons, datetime.now(UTC))[0].kind
    return kind_named(wanted.kind)


def _model(wanted: NewExercise, seed: int) -> EyeModel:
    return EyeModel(
        parse_refraction(wanted.refraction) if wanted.refraction else random_refraction(seed),
        wanted.reflex,
        wanted.tremor_d,
        wanted.noise_d,
        pupil_mm=PUPIL_MM if wanted.age_years is None else pupil_mm_at(wanted.age_years),
        child=wanted.child,
    )


@router.post(
    "/api/practice/lines",
    tags=["practice"],
    responses={409: problem("no lesson, or it has ended")},
)
def say(said: PracticeLine, page: ThisPage) -> dict[str, Any]:
    """Say a line: an entry of the log, a place to lay the streak, look, hint, or done. Answers with what is new."""
    lesson = lesson_of(page)
    if lesson is None or lesson.ended:
        raise HTTPException(409, "no lesson is under way: set an exercise first")
    after = len(lesson.turns)
    lesson.type_line(said.line)
    keep_lesson(lesson)
    return lesson_data(lesson, after)
