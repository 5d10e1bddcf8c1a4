"""Files of limits: read with clear errors, written with what made them."""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import fields
from pathlib import Path
from textwrap import wrap

from voicelog.errors import reason_of
from voicelog.hearing.decision import AnyLimits, Limits
from voicelog.hearing.letter_decision import LetterLimits
from voicelog.measuring.errors import MeasuringError

_KINDS: Mapping[str, type[Limits] | type[LetterLimits]] = {"limits": Limits, "letters": LetterLimits}
"""The table of a file, and what it holds."""


def read_limits(path: Path) -> AnyLimits:
    """The limits of a file such as `hearing/limits.toml` or `letter_limits.toml`.

    Raises MeasuringError when it cannot be used.
    """
    try:
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise MeasuringError(f"{path}: cannot be read ({reason_of(error)})") from None
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise MeasuringError(f"{path}: is not TOML ({error})") from None
    table = next((name for name in _KINDS if name in tables), "limits")
    given, kind = tables.get(table), _KINDS[table]
    names = [field.name for field in fields(kind)]
    if not isinstance(given, dict) or sorted(given) != sorted(names):
        raise MeasuringError(f"{path}: must hold a table [{table}] with {', '.join(names)}, and nothing else")
    for name, value in given.items():
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise MeasuringError(f"{path}: {name} is {value!r}, not a number")
    return kind(**{name: float(value) for name, value in given.items()})


def limits_text(limits: AnyLimits, comments: Iterable[str]) -> str:
    """A file of limits, the comments before them."""
    lines = [
        line
        for comment in comments
        for line in wrap(comment, 110, initial_indent="# ", subsequent_indent="# ", break_on_hyphens=False)
    ]
    table = next(name for name, kind in _KINDS.items() if isinstance(limits, kind))
    values = [f"{field.name} = {getattr(limits, field.name)!r}" for field in fields(limits)]
    return "\n".join([*lines, f"[{table}]", *values]) + "\n"
