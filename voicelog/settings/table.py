"""The settings as a table, made from the model: for the command line and for docs/settings.md.

python -m voicelog.settings.table docs/settings.md
"""

import sys
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import tomlkit
from pydantic import ValidationError
from pydantic.fields import FieldInfo

from voicelog.settings.model import Settings

_KINDS = {bool: "true or false", int: "a whole number", float: "a number", str: "text"}


@dataclass(frozen=True, slots=True)
class Row:
    """One setting: its value in force and its default as they stand in the file, and what may stand there."""

    name: str
    value: str
    default: str
    allowed: str
    meaning: str

    @property
    def is_default(self) -> bool:
        """Whether the default is in force."""
        return self.value == self.default


def rows(settings: Settings) -> Iterator[Row]:
    """Every setting, in the order of the model."""
    for name, field in Settings.model_fields.items():
        value, default = _written(getattr(settings, name)), _written(field.default)
        yield Row(name, value, default, _allowed(field), field.description or "")


def allowed(name: str) -> str:
    """What may stand in a setting, in words."""
    return _allowed(Settings.model_fields[name])


def is_allowed(name: str, value: Any) -> bool:
    """Whether a setting may have that value."""
    try:
        Settings.model_validate({name: value})
    except ValidationError:
        return False
    return True


def _written(value: Any) -> str:
    if value is None:
        return "none"
    text: str = tomlkit.item(list(value) if isinstance(value, tuple) else value).as_string()
    return text


def _allowed(field: FieldInfo) -> str:
    kind: Any = field.annotation
    optional = type(None) in typing.get_args(kind)
    if optional:
        kind = next(each for each in typing.get_args(kind) if each is not type(None))
    if typing.get_origin(kind) is Literal:
        text = ", ".join(_written(each) for each in typing.get_args(kind))
    elif typing.get_origin(kind) is tuple:
        text = "a list of numbers"
    else:
        text = _KINDS[kind]
    bounds = [f"{bound:g}" for each in field.metadata if (bound := _bound(each)) is not None]
    if len(bounds) == 2:
        text += f", {bounds[0]} to {bounds[1]}"
    return f"{text}; or none" if optional else text


def _bound(constraint: Any) -> float | None:
    return getattr(constraint, "ge", getattr(constraint, "le", None))


def as_markdown() -> str:
    """The document docs/settings.md."""
    lines = [
        "# Settings",
        "",
        "Made from the model by `python -m voicelog.settings.table docs/settings.md`. `voicelog settings` shows what",
        "is in force and where the file lies; `voicelog settings set NAME VALUE` changes one, `voicelog settings reset",
        "NAME` takes it back to its default. The file is TOML, one `name = value` a line.",
        "",
        "| name | default | allowed | meaning |",
        "|---|---|---|---|",
        *(
            f"| `{row.name}` | {_cell(row.default)} | {row.allowed} | {row.meaning} |"
            for row in rows(Settings())
        ),
    ]
    return "\n".join(lines) + "\n"


def _cell(text: str) -> str:
    return text if text == "none" else f"`{text}`"


if __name__ == "__main__":
    Path(sys.argv[1]).write_text(as_markdown(), encoding="utf-8")
