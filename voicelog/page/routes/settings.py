"""The first start and the settings: nothing is assumed in silence."""

from dataclasses import asdict
from typing import Annotated, Any, Final, Literal

from fastapi import APIRouter, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import Response

from voicelog.hearing.levels import FLOOR_DBFS
from voicelog.live.preflight import SAMPLE_SENTENCE
from voicelog.page import rendering
from voicelog.page.context import ThisPage
from voicelog.page.level_check import SECONDS
from voicelog.page.problems import Responses, problem
from voicelog.settings import load_settings, save_settings, settings_exist, settings_path

router = APIRouter()

_MISSING: Final[Responses] = {424: problem("a part of the machine is missing")}
_NOT_SHOWN = {"record_server", "record_heads"}


class Changes(BaseModel):
    """Settings to be changed; what is not named stays. None takes a setting back to its default."""

    model_config = ConfigDict(extra="forbid")

    naming: Literal["streak", "meridian"] | None = None
    working_distance_cm: Annotated[float, Field(ge=10, le=100, allow_inf_nan=False)] | None = None
    microphone: Annotated[str, Field(max_length=200)] | None = None
    headset: bool | None = None
    tones: bool | None = None
    volume: Annotated[float, Field(ge=0, le=1, allow_inf_nan=False)] | None = None
    read_back: Literal["auto", "off", "changes", "short", "full"] | None = None
    theme: Literal["dark", "red", "light"] | None = None
    text_scale: Annotated[float, Field(ge=0.75, le=2, allow_inf_nan=False)] | None = None


class Microphone(BaseModel):
    """A part of the microphone's name; None: the one in the settings, else the system's."""

    device: Annotated[str, Field(max_length=200)] | None = None


class OneMicrophone(BaseModel):
    """A microphone; `level_dbfs` null: it gave no sound so far, and `problem` says why where that is known."""

    name: str
    host: str
    channels: int
    is_default: bool
    level_dbfs: float | None
    problem: str


class Level(BaseModel):
    """How loud it is now, and what came of the microphone check."""

    running: bool
    level_dbfs: float
    verdict: str
    good: bool
    heard: str = ""
    """What was understood of the test phrase, in a sentence."""
    exam: bool = False
    """Whether it is the exam that listens; then no check is needed, and none is made."""


@router.get("/start", include_in_schema=False)
def start(request: Request, page: ThisPage) -> Response:
    """The first start, and later the settings."""
    return rendering.page(
        request,
        "start.html",
        kind="settings",
        settings=load_settings(),
        first=not settings_exist(),
        path=str(settings_path()),
        test_phrase=SAMPLE_SENTENCE,
        exam_is_on=page.desk is not None,
    )


@router.get("/api/settings", tags=["settings"])
def read() -> dict[str, Any]:
    """The settings in force, and whether anything was ever set."""
    return load_settings().model_dump(mode="json", exclude=_NOT_SHOWN) | {"first_start": not settings_exist()}


@router.patch("/api/settings", tags=["settings"], responses={400: problem("the file cannot be used")})
def change(changes: Changes, page: ThisPage) -> dict[str, Any]:
    """Save settings. An exam that is under way keeps those that it began with."""
    page.settings = save_settings(changes.model_dump(exclude_unset=True))
    page.saved.set()
    return page.settings.model_dump(mode="json", exclude=_NOT_SHOWN)


@router.get("/api/microphone", tags=["settings"])
def level(page: ThisPage) -> Level:
    """The level now: of the exam under way, or of the check."""
    found = page.level_check.found
    if page.desk is not None and not page.desk.ended:
        return Level(running=True, level_dbfs=page.desk.sound.level_dbfs, verdict="", good=False, exam=True)
    return Level(
        running=found.running,
        level_dbfs=max(FLOOR_DBFS, found.level_dbfs),
        verdict=found.verdict,
        good=found.good,
        heard=found.heard,
    )


@router.get("/api/microphones", tags=["settings"], responses=_MISSING)
def microphones(page: ThisPage, *, listen: bool = False) -> list[OneMicrophone]:
    """The microphones of this machine; with `listen` how loud each is now, while no exam or check listens."""
    busy = (page.desk is not None and not page.desk.ended) or page.level_check.found.running
    found = page.meters.look() if listen and not busy else page.meters.connected()
    return [OneMicrophone(**asdict(each)) for each in found]


@router.post(
    "/api/microphone",
    status_code=202,
    tags=["settings"],
    responses=_MISSING,
)
def check(microphone: Microphone, page: ThisPage) -> dict[str, float]:
    """Begin a check of some seconds; nothing of the sound is kept."""
    if page.desk is None or page.desk.ended:
        page.meters.stop()
        page.level_check.start(microphone.device or page.settings.microphone)
    return {"seconds": SECONDS}
