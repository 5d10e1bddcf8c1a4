"""`voicelog devices`: the microphones of this machine, and how loud each is."""

import argparse
import json
from dataclasses import asdict

from rich.console import Console
from rich.table import Table
from rich.text import Text

from voicelog.cli.parsing import number
from voicelog.errors import MissingPartError
from voicelog.hearing.errors import DeviceError
from voicelog.hearing.inputs import Input, Meters, loudest
from voicelog.hearing.levels import FLOOR_DBFS
from voicelog.live import devices
from voicelog.settings import load_settings


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """How long it listens."""
    parser.add_argument(
        "--seconds", type=number(60, "time in seconds"), default=2.0, help="how long it listens"
    )
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.set_defaults(run=run)


def run(options: argparse.Namespace) -> int:
    """Print every microphone with its loudest level and whether an exam would use it.

    Raises MissingPartError without PortAudio, or where there is no microphone.
    """
    try:
        found = list(loudest(Meters(), options.seconds))
    except DeviceError as error:
        raise MissingPartError(str(error)) from error
    if not found:
        raise MissingPartError("no microphone is connected: plug one in")
    named = devices.chosen(None, load_settings().microphone)
    if options.json:
        print(json.dumps([asdict(each) | {"chosen": _is_chosen(each, named)} for each in found], indent=2))
        return 0
    table = Table(title=f"microphones, the loudest of {options.seconds:g} s")
    for heading in ("", "name", "sound system", "level"):
        table.add_column(heading, overflow="fold")
    for each in found:
        table.add_row(
            "→" if _is_chosen(each, named) else "", Text(each.name), Text(each.host), Text(_level(each))
        )
    console = Console()
    console.print(table)
    console.print(
        "→ an exam listens to this one; another: voicelog settings set microphone NAME", highlight=False
    )
    return 0


def _is_chosen(each: Input, named: str | None) -> bool:
    return each.is_default if named is None else named.casefold() in each.name.casefold()


def _level(each: Input) -> str:
    if each.level_dbfs is None:
        return each.problem or "no sound"
    bars = "█" * round(max(0.0, min(20.0, (each.level_dbfs + 60) / 3)))
    muted = "  (digital silence: muted?)" if each.level_dbfs <= FLOOR_DBFS else ""
    return f"{each.level_dbfs:.0f} dBFS {bars}{muted}"
