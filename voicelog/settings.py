"""Settings: a small model, read from one TOML file; what is not set there has a stated default."""

import os
import tomllib
from pathlib import Path
from typing import Literal

import platformdirs
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from voicelog.errors import VoicelogError

Policy = Literal["cautious", "normal", "single"]


class SettingsError(VoicelogError):
    """The settings file cannot be used; says file, field and reason."""


class Settings(BaseModel):
    """All settings with their defaults."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    naming: Literal["streak", "meridian"] = Field(
        default="streak",
        description="what a bare direction names: the streak, or the meridian of power (the sweep)",
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
    policy: Policy = Field(
        default="normal",
        description="single: one listener; normal: a second is asked where the first is unsure; "
        "cautious: also about every fifteen and fifty",
    )
    clip_days: int = Field(
        default=30, ge=0, le=36_500, description="days for which the sound of entries is kept; 0 keeps none"
    )
    record_server: str | None = Field(
        default=None,
        description="URL of a PostgreSQL database shared by several rooms; none: a file in the data folder",
    )


def settings_path() -> Path:
    """Where the settings file lies: `VOICELOG_SETTINGS`, or the platform's place for configuration."""
    named = os.environ.get("VOICELOG_SETTINGS")
    return Path(named) if named else Path(platformdirs.user_config_dir("voicelog")) / "settings.toml"


def load_settings(path: Path | None = None) -> Settings:
    """The settings of a file; the defaults when there is none.

    Raises SettingsError for a file that cannot be read or that holds anything but valid settings.
    """
    path = path or settings_path()
    if not path.exists():
        return Settings()
    try:
        return Settings.model_validate(tomllib.loads(path.read_text(encoding="utf-8")))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise SettingsError(f"{path} cannot be read: {error}") from None
    except ValidationError as error:
        first = error.errors()[0]
        field = ".".join(str(part) for part in first["loc"]) or "file"
        raise SettingsError(f"{path}: {field}: {first['msg']}") from None
