"""Sections of the printed page that share the room there is: lines with a heading, and what found no room."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from voicelog.record.corrections import Fate
from voicelog.record.export.sheet import MARGIN_MM, WIDTH_MM, Sheet

SIZE: Final = 8.0
LINE_MM: Final = 3.8  # a line of that size
_HEADING_MM, _SPACE_MM = 4.7, 1.5  # a heading, the room below a section
_STRUCK_MM: Final = 70.0  # what an entry was, beside what became of it


@dataclass(frozen=True, slots=True)
class Section:
    """What stands below the eyes: lines or corrections by entry, and a grey note beside the heading."""

    title: str
    entries: Sequence[Sequence[str] | Fate]
    note: str = ""


def lay(sheet: Sheet, sections: Sequence[Section], bottom_mm: float, elsewhere: str) -> list[Section]:
    """Every section with its heading; the room that is left goes round, an entry at a time.

    What has no room is counted, with `elsewhere` behind the count, and given back.
    """
    needs = [[_lines(sheet, entry) for entry in each.entries] for each in sections]
    room = int((bottom_mm - sheet.y - len(sections) * (_HEADING_MM + _SPACE_MM)) / LINE_MM)
    if sum(map(sum, needs)) > room:
        room -= len(sections)  # each may need a line that counts what is left out
    counts = _shares(needs, room)
    for count, each in zip(counts, sections, strict=True):
        end = sheet.words(each.title, 10, "B", MARGIN_MM)
        sheet.words(each.note, 7.5, "G", end + 3)
        sheet.down(_HEADING_MM)
        for entry in each.entries[:count]:
            _entry(sheet, entry)
        more(sheet, len(each.entries) - count, MARGIN_MM, elsewhere)
        sheet.down(_SPACE_MM)
    rest = [replace(each, entries=each.entries[count:]) for count, each in zip(counts, sections, strict=True)]
    return [each for each in rest if each.entries]


def more(sheet: Sheet, count: int, x: float, elsewhere: str) -> None:
    """How many are left out, and where they are."""
    if count > 0:
        sheet.line(f"... and {count} more {elsewhere}", SIZE, "G", x)


def _shares(needs: Sequence[Sequence[int]], lines: int) -> list[int]:
    """How many entries of each section are shown when `lines` lines go round; `needs` has the lines of each entry."""
    shown, left = [0] * len(needs), True
    while left:
        left = False
        for index, entries in enumerate(needs):
            if shown[index] < len(entries) and entries[shown[index]] <= lines:
                lines -= entries[shown[index]]
                shown[index] += 1
                left = True
    return shown


def _lines(sheet: Sheet, entry: Sequence[str] | Fate) -> int:
    return len(entry) if not isinstance(entry, Fate) else 1 if _is_short(sheet, entry) else 2


def _is_short(sheet: Sheet, fate: Fate) -> bool:
    room = WIDTH_MM - 2 * MARGIN_MM - sheet.width(f"{fate.id}  ", SIZE) - 3
    return sheet.width(fate.was, SIZE) <= _STRUCK_MM and (
        sheet.width(fate.was, SIZE) + sheet.width(fate.sentence, SIZE) <= room
    )


def _entry(sheet: Sheet, entry: Sequence[str] | Fate) -> None:
    if not isinstance(entry, Fate):
        for line in entry:
            sheet.line(line, SIZE)
        return
    start = sheet.words(f"{entry.id}  ", SIZE, "G", MARGIN_MM)
    if _is_short(sheet, entry):
        end = sheet.words(entry.was, SIZE, "S", start, _STRUCK_MM)
        sheet.line(entry.sentence, SIZE, "", end + 3)
        return
    sheet.line(entry.was, SIZE, "S", start)
    sheet.line(entry.sentence, SIZE, "", start)
