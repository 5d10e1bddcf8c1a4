"""Texts of the log said in fewer letters, for those who read them from two metres. No number is changed."""

import re
from collections.abc import Iterator
from typing import Final

_SHORTER: Final = (
    # A place is named by both habits in the log; here by the one that was used.
    (re.compile(r" \((?:power along|streak) \d+\)"), ""),
    (re.compile(r"\b(streak|meridian) vertical\b(?: \(090\))?"), r"\1 090"),
    (re.compile(r"\b(streak|meridian) horizontal\b(?: \(180\))?"), r"\1 180"),
    (re.compile(r"(?<!the )\bright eye: "), "R "),
    (re.compile(r"(?<!the )\bleft eye: "), "L "),
    (re.compile(r"\bboth eyes: "), "R and L "),
    (re.compile(r",? sphere ([+-]\d+\.\d\d|plano), cylinder ([+-]\d+\.\d\d) axis (\d{3})"), r" \1 \2 x \3"),
    (re.compile(r",? cylinder ([+-]\d+\.\d\d) axis (\d{3})"), r" \1 x \2"),
    (re.compile(r", sphere (?=[+-]\d|plano)"), " "),
    (re.compile(r"(^|, )instead of "), r"\1was "),
    (re.compile(r"\bthis cannot be true: "), "cannot be: "),
    (re.compile(r"\b(with|against) motion at "), r"\1 at "),
    (re.compile(r"\bthe neutral lenses give\b"), "the neutrals give"),
)


def brief(text: str) -> str:
    """ "right eye: streak vertical (power along 180) neutral, sphere -3.00, instead of +3.00" is
    "R streak 090 neutral -3.00, was +3.00"."""
    for pattern, shorter in _SHORTER:
        text = pattern.sub(shorter, text)
    return text.strip()


def clauses(text: str) -> tuple[str, ...]:
    """A text in its parts, each of which can stand alone: where there is no room, whole ones are left out."""
    return tuple(_clauses(brief(text)))


def _clauses(text: str) -> Iterator[str]:
    for part in text.split("; "):
        if part.strip():
            yield part.strip()
