"""The names of exams: the day on which an exam began, and letters by chance. They say nothing about anybody."""

import re
import secrets
from datetime import UTC, datetime
from typing import Final

_LETTERS: Final = "0123456789abcdefghjkmnpqrstvwxyz"  # none that is taken for another
_RANDOM_LETTERS: Final = 8
_NAME: Final = re.compile(r"[0-9]{8}-[0-9a-z]{8}")


def new_name(at: datetime) -> str:
    """A name for an exam that begins at `at`: its day (UTC), a hyphen, eight letters; texts sort as the days do."""
    letters = "".join(secrets.choice(_LETTERS) for _ in range(_RANDOM_LETTERS))
    return f"{day(at)}-{letters}"


def is_name(text: str) -> bool:
    """Whether a text is the whole name of an exam."""
    return _NAME.fullmatch(text) is not None


def day(at: datetime) -> str:
    """The day (UTC) with which the names of its exams begin."""
    return f"{at.astimezone(UTC):%Y%m%d}"
