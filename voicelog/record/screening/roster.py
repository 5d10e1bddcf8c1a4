"""A list of children to be examined: a CSV file with the column "reference" and "years", "months" or both.

Other columns are not read, so that names and birth dates in the file go nowhere.
"""

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from voicelog.errors import VoicelogError, reason_of
from voicelog.exam.entries import AgeEntry
from voicelog.exam.entries.age import GREATEST_YEARS
from voicelog.record.inert import inert
from voicelog.record.overviews import sought

LARGEST_FILE_BYTES: Final = 1_048_576
LONGEST_REFERENCE: Final = 60
_YEARS, _MONTHS = "years", "months"
_A_YEAR: Final = 12
_LONGEST_IN_MONTHS: Final = 71  # as ages are said
_WHOLE: Final = re.compile(r"[0-9]{1,4}", re.ASCII)
_SEPARATORS: Final = (",", ";", "\t")


class RosterError(VoicelogError):
    """The file is no list of children."""


@dataclass(frozen=True, slots=True)
class Child:
    """One of the list: the line of the file, the practice's own reference, the age (None: not known)."""

    line: int
    reference: str
    age: AgeEntry | None = None

    @property
    def key(self) -> str:
        """The reference as it is compared: in whatever case it is written."""
        return sought(self.reference)

    @property
    def words(self) -> str:
        """ "reference K711, 3 years 6 months"."""
        return (
            f"reference {self.reference}, {'age not known' if self.age is None else self.age.value_words()}"
        )


@dataclass(frozen=True, slots=True)
class Roster:
    """The children in the order of the file, and what is wrong in it, one line each."""

    children: tuple[Child, ...]
    problems: tuple[str, ...] = ()

    def child(self, reference: str) -> Child | None:
        """The child of a reference, in whatever case it is written; None where it is not on the list."""
        return next((each for each in self.children if each.key == sought(reference)), None)


def read_roster(path: Path) -> Roster:
    """The list in a file. Raises RosterError, one line, for a file that cannot be read or is no such list."""
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST_FILE_BYTES + 1)
    except OSError as error:
        raise RosterError(f"{path} cannot be read: {reason_of(error)}") from None
    if len(content) > LARGEST_FILE_BYTES:
        raise RosterError(f"{path} is no list: it is larger than {LARGEST_FILE_BYTES // 1024} kB")
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise RosterError(f"{path} is no UTF-8: save it as CSV UTF-8") from None
    try:
        return roster(text)
    except RosterError as error:
        raise RosterError(f"{path}: {error}") from None


def roster(text: str) -> Roster:
    """The list in a text. A line that cannot be used is a problem, and the others stand. Raises RosterError."""
    lines = _rows(text)
    headings = next(lines, (0, []))[1]
    columns = [each.strip().casefold() for each in headings]
    _check(columns)
    children: dict[str, Child] = {}
    problems: list[str] = []
    for line, cells in lines:
        if not any(each.strip() for each in cells):
            continue
        if len(cells) > len(columns):
            problems.append(f"line {line}: {len(cells)} cells under {len(columns)} headings: not used")
            continue
        row = dict(zip(columns, (each.strip() for each in cells), strict=False))
        wrong = _wrong_reference(row.get("reference", ""), children)
        if wrong:
            problems.append(f"line {line}: {wrong}: not used")
            continue
        age, doubt = _age(row)
        child = Child(line, row["reference"], age)
        children[child.key] = child
        if doubt:
            problems.append(f"line {line}: {doubt}: reference {child.reference} is examined without an age")
    if not children and not problems:
        raise RosterError("nobody is on the list")
    return Roster(tuple(children.values()), tuple(problems))


def _rows(text: str) -> Iterator[tuple[int, list[str]]]:
    """Each row with the line on which it begins. Raises RosterError where quotes are not closed, and the like."""
    first = text.lstrip().partition("\n")[0]
    separator = max(_SEPARATORS, key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    while True:
        line = reader.line_num + 1
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise RosterError(f"line {line}: {error}") from None
        if row:
            yield line, row


def _check(columns: Sequence[str]) -> None:
    if "reference" not in columns:
        raise RosterError('the first line has no heading "reference"')
    if _YEARS not in columns and _MONTHS not in columns:
        raise RosterError('the first line has no heading "years" or "months"')
    for name in ("reference", _YEARS, _MONTHS):
        if columns.count(name) > 1:
            raise RosterError(f'the first line has the heading "{name}" twice')


def _wrong_reference(reference: str, known: Mapping[str, Child]) -> str:
    """What is wrong with a reference, in words."""
    if not sought(reference):
        return "no reference"
    if len(reference) > LONGEST_REFERENCE:
        return f"a reference of more than {LONGEST_REFERENCE} characters"
    if inert(reference) != reference:
        return f"the reference {inert(reference)} has characters that cannot be seen"
    before = known.get(sought(reference))
    return "" if before is None else f"reference {reference} is on line {before.line} already"


def _age(row: Mapping[str, str]) -> tuple[AgeEntry | None, str]:
    """The age, and what is wrong with it in words."""
    given = {name: row[name] for name in (_YEARS, _MONTHS) if row.get(name)}
    if not given:
        return None, "no age"
    for name, value in given.items():
        if not _WHOLE.fullmatch(value):
            return None, f"{name} {inert(value, 20)!r} is no whole number"
    years, months = (int(given[name]) if name in given else None for name in (_YEARS, _MONTHS))
    if months is None:
        doubt = f"{years} years are more than {GREATEST_YEARS}" if (years or 0) > GREATEST_YEARS else ""
        return (None if doubt else AgeEntry(years=years)), doubt
    if years is not None and months >= _A_YEAR:
        return None, f"{months} months beside {years} years"
    whole = (years or 0) * _A_YEAR + months
    if whole > GREATEST_YEARS * _A_YEAR:
        return None, f"{whole} months are more than {GREATEST_YEARS} years"
    return _in_words_of_the_log(years, months, whole), ""


def _in_words_of_the_log(years: int | None, months: int, whole: int) -> AgeEntry:
    """The age as it can be said: up to 71 months, otherwise years, and months unless there are none."""
    if years and months:
        return AgeEntry(years=years, months=months)
    if whole <= _LONGEST_IN_MONTHS:
        return AgeEntry(months=whole)
    return AgeEntry(years=whole // _A_YEAR, months=whole % _A_YEAR or None)
