"""Meanings as plain JSON, without what was not said."""

import json
from typing import Any

import pytest

from voicelog.phrases.lines import LineReader, NotAPhraseError
from voicelog.phrases.meanings import Meaning


def told(meaning: Meaning) -> dict[str, Any]:
    """A meaning as JSON; what is empty or not so is left out."""
    found: dict[str, Any] = json.loads(
        meaning.model_dump_json(exclude_none=True), object_hook=_without_nothing
    )
    return found


def all_told(reader: LineReader, line: str) -> list[dict[str, Any]]:
    """All that a line says, in order; it says one thing."""
    (reading,) = reader.understand(line).readings
    return [told(meaning) for meaning in reading]


def refused(reader: LineReader, line: str) -> NotAPhraseError:
    """Why a line is no phrase."""
    with pytest.raises(NotAPhraseError) as caught:
        reader.understand(line)
    return caught.value


def _without_nothing(record: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in record.items() if value is not False and value != []}
