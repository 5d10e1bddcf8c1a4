"""Text from outside made harmless for terminals, tables and pages: what cannot be seen is written as its number.

Control characters move cursors and colours; marks of writing direction turn the order of what follows round;
characters of no width hide. All of them, and everything that Unicode does not define, become "\\u{202e}" and the like.
"""

import unicodedata
from typing import Final

_HIDDEN: Final = ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp")


def inert(text: str, longest: int | None = None) -> str:
    """One line without any character that is not shown as itself.

    With `longest`, at most that many characters of the text, and how many there are in all.
    """
    shown = text if longest is None or len(text) <= longest else text[:longest]
    safe = "".join(_escaped(each) for each in shown)
    return safe if len(shown) == len(text) else f"{safe} [... {len(text):,} characters in all]"


def numbered(character: str) -> str:
    """A character as its number."""
    return f"\\u{{{ord(character):x}}}"


def _escaped(character: str) -> str:
    if character == "\n":
        return " / "
    return numbered(character) if unicodedata.category(character) in _HIDDEN else character
