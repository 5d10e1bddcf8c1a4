"""Settings: a small model, kept in one TOML file; what is not set there has a stated default."""

from voicelog.settings.file import SettingsError, load_settings, save_settings, settings_exist, settings_path
from voicelog.settings.model import EngineName, Policy, Settings

__all__ = [
    "EngineName",
    "Policy",
    "Settings",
    "SettingsError",
    "load_settings",
    "save_settings",
    "settings_exist",
    "settings_path",
]
