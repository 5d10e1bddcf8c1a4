"""Options of every command that runs an exam, and the settings that they change."""

import argparse

from voicelog.cli.parsing import number
from voicelog.errors import VoicelogError
from voicelog.exam.entries.distance import GREATEST_CM, LEAST_CM
from voicelog.settings import Settings, load_settings
from voicelog.settings.table import allowed, is_allowed

_SETTINGS_OF_OPTIONS = {
    "naming": "naming",
    "distance": "working_distance_cm",
    "form": "cylinder_form",
    "policy": "policy",
    "engine": "engine",
    "volume": "volume",
    "read_back": "read_back",
    "headset": "headset",
}
"""An option that is not given leaves its setting; a command need not have them all."""
DISTANCE_CM = number(GREATEST_CM, "working distance", least=LEAST_CM, unit="cm")
"""Reads a working distance."""


def add_exam_options(parser: argparse.ArgumentParser) -> None:
    """How an exam is understood and printed."""
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument(
        "--naming",
        choices=("streak", "meridian"),
        help="what a bare direction names: the streak, or the meridian of power",
    )
    parser.add_argument(
        "--distance", type=DISTANCE_CM, metavar="CM", help="working distance, if it is not said: 10 to 100"
    )
    add_listener_options(parser)
    parser.add_argument("--form", choices=("minus", "plus"), help="cylinder form of the results")


def add_kept_options(parser: argparse.ArgumentParser) -> None:
    """Whether an exam is kept, and under which reference."""
    parser.add_argument("--reference", default="", help="the practice's own reference; no name is needed")
    parser.add_argument("--no-record", action="store_true", help="keep nothing of this exam")


def add_listener_options(parser: argparse.ArgumentParser) -> None:
    """Who listens."""
    parser.add_argument(
        "--policy",
        choices=("cautious", "normal", "single"),
        help="how readily it asks instead of entering: cautious asks most",
    )
    parser.add_argument(
        "--engine", choices=("letters", "moonshine", "sphinx", "vosk"), help="which recogniser listens"
    )


def settings_of(options: argparse.Namespace) -> Settings:
    """The settings with what was said on the command line. Raises VoicelogError."""
    given = {name: getattr(options, option, None) for option, name in _SETTINGS_OF_OPTIONS.items()}
    changes = {name: value for name, value in given.items() if value is not None}
    for option, name in _SETTINGS_OF_OPTIONS.items():
        if name in changes and not is_allowed(name, changes[name]):
            told = f"--{option.replace('_', '-')} {changes[name]}"
            raise VoicelogError(f"{told}: allowed is {allowed(name)} (setting {name})")
    return load_settings().model_copy(update=changes)
