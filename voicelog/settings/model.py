"""All settings with their defaults, what is allowed, and what each is for; docs/settings.md is made from this."""

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, field_validator

from voicelog.optics import COMMON_LENS_SET, LensSet, OpticsError

Policy = Literal["cautious", "normal", "single"]
EngineName = Literal["letters", "moonshine", "sphinx", "vosk"]


class Settings(BaseModel):
    """All settings with their defaults."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    naming: Literal["streak", "meridian"] = Field(
        default="streak",
        description="what a bare direction names: the streak, or the meridian of power (the sweep); where it is"
        " not set, the first one of an exam is asked about",
    )
    working_distance_cm: float | None = Field(
        default=None,
        ge=10,
        le=100,
        description="eye to retinoscope, in centimetres; none: it must be said in every exam",
    )
    cylinder_form: Literal["minus", "plus"] = Field(
        default="minus", description="form in which results are written"
    )
    power_steps: Literal["quarters", "eighths"] = Field(
        default="quarters", description="parts of a dioptre to which results are rounded for writing down"
    )
    axis_step_deg: Literal[1, 5] = Field(
        default=1, description="step in degrees to which the axis of a result is rounded"
    )
    spheres_d: tuple[float, ...] = Field(
        default=COMMON_LENS_SET.spheres_d,
        description="spheres of your trial set in dioptres, ascending, without sign",
    )
    cylinders_d: tuple[float, ...] = Field(
        default=COMMON_LENS_SET.cylinders_d,
        description="cylinders of your trial set in dioptres, ascending, without sign",
    )
    neutrality_sd_d: float | None = Field(
        default=None,
        ge=0.05,
        le=1.0,
        description="standard deviation with which you judge neutrality, in dioptres, as the audit of your own exams "
        "finds it; none: that of one published study (0.26)",
    )
    acuity_notation: Literal["metric", "imperial", "decimal", "logmar"] = Field(
        default="metric", description="how acuity is shown: 6/6, 20/20, 1.0 or 0.00"
    )
    advise: bool = Field(
        default=False,
        description="whether every look is answered with the streak and lens that would tell most",
    )
    estimate_from: Literal["nothing", "spectacles", "visit", "age"] = Field(
        default="nothing",
        description="what the estimate of all looks begins from with the first look of an exam: nothing, the "
        "spectacles worn, the last visit of the same reference, or the age; the plain result never does",
    )
    remind_fogging: bool = Field(
        default=False, description="whether a new eye brings a reminder that the other one is fogged"
    )
    remind_fellow_eye: bool = Field(
        default=False, description="whether the end of an exam of one eye brings a reminder of the other"
    )
    language: str = Field(
        default="en",
        min_length=1,
        description="which grammar is spoken and typed: a code that is shipped, or the path of a grammar's folder",
    )
    engine: EngineName = Field(default="letters", description="which recogniser listens first")
    vosk_model: str | None = Field(
        default=None, description="folder or catalogue name of the model for the engine vosk"
    )
    policy: Policy = Field(
        default="normal",
        description="single: one listener; normal: with letters a second is asked about all that may be entered, with "
        "moonshine and vosk where the first is unsure; cautious: with these also about every fifteen and fifty",
    )
    microphone: str | None = Field(
        default=None, description="part of the microphone's name; none: the one named last, else the system's"
    )
    headset: bool = Field(
        default=False, description="whether the microphone cannot hear the loudspeaker, as with a headset"
    )
    tones: bool = Field(default=True, description="whether tones tell what became of an utterance")
    volume: float = Field(default=0.5, ge=0, le=1, description="of tones and read-back, 0 to 1")
    read_back: Literal["auto", "off", "changes", "short", "full"] = Field(
        default="auto",
        description="what the system voice says after an entry: nothing; what is more than plain entering (questions, "
        "corrections, another eye or place, contradictions); the value; all. Auto: changes, or all on a headset",
    )
    theme: Literal["dark", "red", "light"] = Field(
        default="dark", description="colours of the page; red spares dark-adapted eyes"
    )
    text_scale: float = Field(default=1.0, ge=0.75, le=2.0, description="size of the page's text")
    clip_days: int = Field(
        default=30, ge=0, le=36_500, description="days for which the sound of entries is kept; 0 keeps none"
    )
    record_server: str | None = Field(
        default=None,
        description="URL of a PostgreSQL database shared by several rooms; none: a file in the data folder",
    )
    record_heads: str | None = Field(
        default=None,
        description="a second folder, best on another disk, for the heads by which the record proves itself; none: "
        "they lie in the data folder alone",
    )

    @field_validator("spheres_d", "cylinders_d")
    @classmethod
    def _a_set_of_lenses(cls, powers_d: tuple[float, ...]) -> tuple[float, ...]:
        try:
            LensSet(spheres_d=powers_d)
        except OpticsError as error:
            raise ValueError(str(error)) from None
        return powers_d

    @property
    def naming_chosen(self) -> bool:
        """Whether somebody set what a bare direction names: else the first one of an exam is asked about."""
        return "naming" in self.model_fields_set

    @property
    def power_step_d(self) -> float:
        """The step of written powers, dioptres."""
        return 0.25 if self.power_steps == "quarters" else 0.125

    @property
    def lens_set(self) -> LensSet:
        """The trial lenses at hand."""
        return LensSet(self.spheres_d, self.cylinders_d)
