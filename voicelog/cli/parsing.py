"""Parts that parsers of several commands share: errors of one line, and numbers with bounds."""

import argparse
from collections.abc import Callable
from typing import NoReturn

from voicelog.record.inert import inert


class OneLineParser(argparse.ArgumentParser):
    """Says what is wrong in one line, without the usage."""

    def error(self, message: str) -> NoReturn:
        """Exit with status 2."""
        self.exit(2, f"{self.prog}: {inert(message)}\n")


def whole_number(least: int = 0) -> Callable[[str], int]:
    """Reads a whole number from `least` on."""

    def read(text: str) -> int:
        # Longer ones Python itself may refuse to read.
        if not (text.isascii() and text.isdigit() and len(text) <= 18 and int(text) >= least):
            raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from {least}")
        return int(text)

    return read


def number(most: float = float("inf"), what: str = "number") -> Callable[[str], float]:
    """Reads a number from 0 to `most`; `what` it is called where it is none."""

    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = -1.0
        if not 0.0 <= value <= most or value == float("inf"):
            limits = "from 0" if most == float("inf") else f"from 0 to {most:g}"
            raise argparse.ArgumentTypeError(f"{text!r} is not a {what} {limits}")
        return value

    return read
