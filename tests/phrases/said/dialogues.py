"""Whole examinations, typed line by line: the result of each eye against the true one, and what was asked on the way.

The file has a heading for each examination, who names what, lines that begin with who speaks ("E:" the examiner), and
behind "Result:" the true result of each eye, exact and to the quarter.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from math import cos, radians, sin
from pathlib import Path
from typing import Literal

from voicelog.session import Session
from voicelog.settings import Settings

_LINE = re.compile(r"^([EPO]): (.*?)\s*$")
_EXACT = re.compile(r"exact ([+-]?[\d.]+)(?: / ([+-][\d.]+) x (\d+))?")
_BARE = re.compile(r"\bbare (words|directions|degrees)\b")
_NAMES_MERIDIAN = re.compile(r"\bnames the (sweep )?meridian\b")
_SENTENCE = re.compile(r"(?<=[.?!])\s+")
_AS_EXACT_D = 0.02
"""The file gives hundredths; an axis in whole degrees moves a component by less than this."""

Vector = tuple[float, float, float]


@dataclass
class Examination:
    """One examination of the file: what was said by whom, and the true results (None: it cannot be known)."""

    title: str
    naming: Literal["streak", "meridian"] | None = "streak"
    """What bare directions name; None: the examiner says bare words, and is asked."""
    said: list[tuple[str, str]] = field(default_factory=list)
    results: dict[str, Vector | None] = field(default_factory=dict)
    asks: str = ""


@dataclass(frozen=True)
class Played:
    """What came of an examination: by eye "reached", "open" or "wrong"; what was not understood, and was asked."""

    examination: Examination
    eyes: dict[str, str]
    refused: tuple[str, ...]
    asked: tuple[str, ...]
    entered_by_others: tuple[str, ...]


def examinations(path: Path) -> Iterator[Examination]:
    """The examinations of a file."""
    found: Examination | None = None
    for line in path.read_text(encoding="utf-8").splitlines():
        if line.startswith("## "):
            if found is not None:
                yield found
            found = Examination(line[3:])
        elif found is not None:
            _add(found, line)
    if found is not None:
        yield found


def _add(found: Examination, line: str) -> None:
    if _NAMES_MERIDIAN.search(line) and not found.said:
        found.naming = "meridian"
    if _BARE.search(line) and not found.said:
        found.naming = None
    if spoken := _LINE.match(line):
        found.said += [(spoken[1], each) for each in _SENTENCE.split(spoken[2]) if each]
    elif line.startswith(("- RIGHT", "- LEFT")):
        exact = _EXACT.search(line)
        eye = "right" if line.startswith("- RIGHT") else "left"
        found.results[eye] = None if exact is None else _vector(*exact.groups())
    elif line.startswith("Ask / beware:"):
        found.asks = line.partition(":")[2].strip()


def _vector(sphere: str, cylinder: str | None, axis: str | None) -> Vector:
    """Mean sphere and the two crossed cylinders (Thibos, Wheeler & Horner 1997)."""
    power, angle = float(cylinder or 0.0), radians(2 * float(axis or 0.0))
    return float(sphere) + power / 2, -power / 2 * cos(angle), -power / 2 * sin(angle)


def played(examination: Examination, *, others: bool = False) -> Played:
    """An examination as it was said, by the examiner alone or with what `others` say as well."""
    session = Session(Settings() if examination.naming is None else Settings(naming=examination.naming))
    refused, asked, strange = [], [], []
    for who, sentence in examination.said:
        if who != "E" and not others:
            continue
        line = session.type_line(sentence)
        if who != "E":
            strange += [sentence] if line.acts else []
        elif not line.meanings:
            refused.append(sentence)
        elif line.question is not None:
            asked.append(f"{sentence} -> {line.reply}")
    eyes = {eye: _came_to(session, eye, true) for eye, true in examination.results.items()}
    return Played(examination, eyes, tuple(refused), tuple(asked), tuple(strange))


def _came_to(session: Session, eye: str, true: Vector | None) -> str:
    state = session.state.eyes[eye]  # type: ignore[index]
    if state.status != "solved" or state.solution.vector is None:
        return "reached" if true is None else "open"
    if true is None:
        return "wrong"
    vector = state.solution.vector
    found = vector.m_d, vector.j0_d, vector.j45_d
    return (
        "reached"
        if all(abs(one - other) <= _AS_EXACT_D for one, other in zip(found, true, strict=True))
        else "wrong"
    )
