"""Files of limits: read with clear errors, written with what made them."""

import tomllib
from collections.abc import Iterable
from dataclasses import fields
from pathlib import Path
from textwrap import wrap

from voicelog.hearing.decision import Limits
from voicelog.measuring.errors import MeasuringError


def read_limits(path: Path) -> Limits:
    """The limits of a file such as `hearing/limits.toml`. Raises MeasuringError when it cannot be used."""
    try:
        given = tomllib.loads(path.read_text(encoding="utf-8")).get("limits")
    except OSError as error:
        raise MeasuringError(f"{path}: cannot be read ({error.strerror})") from None
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise MeasuringError(f"{path}: is not TOML ({error})") from None
    names = [field.name for field in fields(Limits)]
    if not isinstance(given, dict) or sorted(given) != sorted(names):
        raise MeasuringError(f"{path}: must hold a table [limits] with {', '.join(names)}, and nothing else")
    for name, value in given.items():
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise MeasuringError(f"{path}: {name} is {value!r}, not a number")
    return Limits(**{name: float(value) for name, value in given.items()})


def limits_text(limits: Limits, comments: Iterable[str]) -> str:
    """A file of limits, the comments before them."""
    lines = [
        line
        for comment in comments
        for line in wrap(comment, 110, initial_indent="# ", subsequent_indent="# ", break_on_hyphens=False)
    ]
    values = [f"{field.name} = {getattr(limits, field.name)!r}" for field in fields(Limits)]
    return "\n".join([*lines, "[limits]", *values]) + "\n"
