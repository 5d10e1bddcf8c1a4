"""What the commands about the record share."""

import argparse
from collections.abc import Callable
from pathlib import Path
from typing import Any

from rich.console import Console

from voicelog.record.errors import A_COMMAND, doing
from voicelog.record.journal import Journal
from voicelog.settings import load_settings


def running(function: Callable[..., bool | None]) -> Callable[[argparse.Namespace], int]:
    """Call a function with the arguments as they were given; what it finds false makes status 2."""

    @doing(A_COMMAND)
    def run(options: argparse.Namespace) -> int:
        given = {key: value for key, value in vars(options).items() if key != "run"}
        return 2 if function(**given, server=load_settings().record_server) is False else 0

    return run


def journal_of(server: str | None) -> Journal:
    """The record, with the second folder of the settings."""
    second = load_settings().record_heads
    return Journal.open(server=server, heads_folder=None if second is None else Path(second))


def printed(shown: Any) -> None:
    """Print text or a table as it is."""
    Console(markup=False, highlight=False, emoji=False).print(shown)
