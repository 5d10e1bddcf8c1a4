"""`voicelog settings`: what is set, and to set it."""

import argparse

import tomlkit
import tomlkit.exceptions
from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from voicelog.settings import load_settings, save_settings, settings_path
from voicelog.settings.table import rows


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Without a verb, all settings are shown."""
    parser.set_defaults(run=show)
    verbs = parser.add_subparsers(metavar="COMMAND")
    changed = verbs.add_parser("set", help="give one setting a value")
    changed.add_argument("name", metavar="NAME", help="as voicelog settings lists it")
    changed.add_argument("value", metavar="VALUE", help="as in the file; text needs no quotes")
    changed.set_defaults(run=change)
    restored = verbs.add_parser("reset", help="take one setting back to its default")
    restored.add_argument("name", metavar="NAME", help="as voicelog settings lists it")
    restored.set_defaults(run=reset)


def show(options: argparse.Namespace) -> int:
    """Print every setting with what is in force, what may be set, and where the file lies."""
    console = Console(highlight=False, markup=False, emoji=False)
    for row in rows(load_settings()):
        changed = "" if row.is_default else "  (changed)"
        console.print(Text(f"{row.name} = {row.value}{changed}", style="bold"))
        console.print(Padding(Text(f"{row.meaning}\nallowed: {row.allowed}"), (0, 0, 1, 4)))
    console.print(f"file: {settings_path()}", soft_wrap=True, highlight=False)
    return 0


def change(options: argparse.Namespace) -> int:
    """Set one setting to a value as it stands in the file. Raises SettingsError."""
    try:
        given = tomlkit.value(options.value).unwrap()
    except tomlkit.exceptions.ParseError:
        given = options.value
    save_settings({options.name: given})
    return 0


def reset(options: argparse.Namespace) -> int:
    """Take one setting back to its default. Raises SettingsError."""
    save_settings({options.name: None})
    return 0
