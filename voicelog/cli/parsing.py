"""Parts that parsers of several commands share: errors of one line, and numbers and days with bounds."""

import argparse
import re
from collections.abc import Callable
from datetime import date
from difflib import get_close_matches
from typing import Any, NoReturn

from voicelog.record.inert import inert


class OneLineParser(argparse.ArgumentParser):
    """Says what is wrong and what is allowed in one line, without the usage; its commands say what they do."""

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        self.register("action", "parsers", _Commands)

    def error(self, message: str) -> NoReturn:
        """Exit with status 2."""
        self.exit(2, f"{self.prog}: {inert(_plain(message, self.prog))}\n")


class _Commands(argparse._SubParsersAction):  # type: ignore[type-arg]
    """Begins the help of a command with what the list of commands says of it."""

    def add_parser(self, name: str, **named: Any) -> argparse.ArgumentParser:
        purpose: str = named.get("help", "")
        named.setdefault("description", f"{purpose[:1].upper()}{purpose[1:]}")
        return super().add_parser(name, **named)  # type: ignore[no-any-return]


def _plain(message: str, prog: str) -> str:
    """What the library says, in the words of this program; as it is where it says anything else."""
    helped = f"{prog} --help tells what it takes"
    if choice := re.fullmatch(
        r"argument (\S+): invalid choice: '(.*)' \(choose from (.*)\)", message, re.DOTALL
    ):
        named, given, allowed = choice.groups()
        choices = re.findall(r"'([^']*)'", allowed)
        if named not in ("COMMAND", "WHAT"):
            return f"{named} {given!r}: allowed is {', '.join(choices)}"
        near = get_close_matches(given, choices, n=1)
        meant = f"did you mean {near[0]}? " if near else ""
        return f"{given!r} is no command; {meant}There are {', '.join(choices)}".replace("; There", "; there")
    if missing := re.fullmatch(r"the following arguments are required: (.*)", message):
        return f"{missing[1]} must be given; {helped}"
    if unknown := re.fullmatch(r"unrecognized arguments: (.*)", message, re.DOTALL):
        return f"{unknown[1]!r} is not understood; {prog} COMMAND --help tells what a command takes"
    if alone := re.fullmatch(r"argument (\S+): expected (?:one|at least one) argument", message):
        return f"{alone[1]} needs a value; {helped}"
    return message.removeprefix("argument ")


def whole_number(least: int = 0) -> Callable[[str], int]:
    """Reads a whole number from `least` on."""

    def read(text: str) -> int:
        # Longer ones Python itself may refuse to read.
        if not (text.isascii() and text.isdigit() and len(text) <= 18 and int(text) >= least):
            raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from {least}")
        return int(text)

    return read


def number(
    most: float = float("inf"), what: str = "number", *, least: float = 0.0, unit: str = ""
) -> Callable[[str], float]:
    """Reads a number from `least` to `most`, in `unit`; `what` it is called where it is none."""

    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not least <= value <= most or value == float("inf"):
            limits = f"from {least:g}" if most == float("inf") else f"from {least:g} to {most:g}"
            raise argparse.ArgumentTypeError(f"{text!r} is not a {what} {limits}{unit and f' {unit}'}")
        return value

    return read


def day(text: str) -> date:
    """Reads a day as in 2026-11-27."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a day, as in 2026-11-27") from None
