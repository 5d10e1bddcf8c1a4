"""The names of exams: the day on which an exam began, and letters by chance. They say nothing about anybody."""

import re
import secrets
from datetime import UTC, datetime
from typing import Final

_LETTERS: Final = "0123456789abcdefghjkmnpqrstvwxyz"  # none that is taken for another
_DAY_DIGITS: Final = 8
_RANDOM_LETTERS: Final = 8
_BEHIND_ALL: Final = "z"
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


def between_names(start: str) -> tuple[str, str] | None:
    """From which text on, and before which, the names are that begin so; None where none can.

    Both are digits alone, which sort alike in every database, so that its index serves.
    """
    digits = start[:_DAY_DIGITS]
    if not (digits.isascii() and digits.isdigit()):
        return None
    after = str(int(digits) + 1).zfill(len(digits))
    return (digits, after) if len(after) == len(digits) else (digits, _BEHIND_ALL)
