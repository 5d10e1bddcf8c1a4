"""What a terminal sends for a key, as the key's name: "a", "F2", "Shift+F2"; one name a key, however many bytes.

The sequences of function keys are those of the terminal descriptions (terminfo) of xterm, vt220, screen and the Linux
console; in their parameters a 2 means Shift (xterm, "PC-Style Function Keys").
"""

import re
from collections.abc import Iterator
from typing import Final

OTHER: Final = "Other"
"""Any key that has no name here, as an arrow; a pedal may send it."""
_SHIFTED: Final = ";2"
_LETTERS: Final = {"P": 1, "Q": 2, "R": 3, "S": 4}  # ESC O P, ESC [ 1 ; 2 P
_CONSOLE: Final = {"A": 1, "B": 2, "C": 3, "D": 4, "E": 5}  # ESC [ [ A
_NUMBERS: Final = dict(zip((11, 12, 13, 14, 15, 17, 18, 19, 20, 21, 23, 24), range(1, 13), strict=True))
_CONSOLE_SHIFTED: Final = dict(zip((25, 26, 28, 29, 31, 32, 33, 34), range(1, 9), strict=True))
_SEQUENCE: Final = re.compile(
    r"\x1b\[\[(?P<console>.)|\x1bO(?P<letter>.)|\x1b\[(?P<parameters>[0-9;?<=>]*)[ -/]*(?P<final>[@-~])"
)
_BEGUN: Final = re.compile(r"\x1b(\[\[?|O|\[[0-9;?<=>]*[ -/]*)?\Z")


class KeyNames:
    """Takes what a terminal sends as it comes; a sequence may come in pieces."""

    def __init__(self) -> None:
        self._left = ""

    def __call__(self, text: str) -> Iterator[str]:
        """The names of the keys that are whole."""
        text, self._left = self._left + text, ""
        at = 0
        while at < len(text):
            found = _SEQUENCE.match(text, at)
            if found is not None:
                yield _named(found)
                at = found.end()
            elif _BEGUN.match(text, at):
                self._left = text[at:]
                return
            else:
                yield text[at]
                at += 1

    def rest(self) -> Iterator[str]:
        """What was begun and did not go on: the Escape key, say."""
        left, self._left = self._left, ""
        yield from left


def _named(found: re.Match[str]) -> str:
    console, letter = found["console"], found["letter"]
    if console or letter:
        return _function(_CONSOLE.get(console) if console else _LETTERS.get(letter), shifted=False)
    first, _, further = found["parameters"].partition(";")
    shifted = f";{further}" == _SHIFTED
    if further and not shifted:
        return OTHER
    if found["final"] in _LETTERS:
        return _function(_LETTERS[found["final"]], shifted=shifted)
    if found["final"] != "~" or not first.isdecimal():
        return OTHER
    if int(first) in _CONSOLE_SHIFTED:
        return _function(_CONSOLE_SHIFTED[int(first)], shifted=True)
    return _function(_NUMBERS.get(int(first)), shifted=shifted)


def _function(number: int | None, *, shifted: bool) -> str:
    if number is None:
        return OTHER
    return f"Shift+F{number}" if shifted else f"F{number}"
