"""What the optics find wrong or missing, in words."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One finding: a fixed `code` for programs and a one-line `text` for people."""

    code: str
    text: str
