"""One printed page: both power crosses, how they were found and how sure they are, further findings, who vouches."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from voicelog import __version__
from voicelog.exam.pass_state import TakenReading, Writing
from voicelog.exam.remarks import DEFERRING
from voicelog.exam.state import EYES, EyeName
from voicelog.optics import written_axis, written_cm, written_power
from voicelog.record.corrections import Fate, fates
from voicelog.record.events import Attested
from voicelog.record.exams import ExamRecord
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.further import SUBJECTIVE_CODE, Further, compared, further, remarked
from voicelog.record.export.kept import Kept
from voicelog.record.export.refractions import Refraction, refractions, uncertainty_basis
from voicelog.record.export.sheet import HEIGHT_MM, MARGIN_MM, WIDTH_MM, Sheet
from voicelog.record.heads import Head
from voicelog.record.qr import qr_rows

_GAP_MM: Final = 8.0
_COLUMN_MM: Final = (WIDTH_MM - 2 * MARGIN_MM - _GAP_MM) / 2
_RADIUS_MM: Final = 18.0
_MOST_READINGS, _MOST_PROBLEMS = 8, 3
_LEAST_BESIDE, _MOST_BESIDE = 2, 10
_EYES_END_MM: Final = 172.0  # what is found beside the readings of an eye ends here, as far as it can
_FOOT_MM: Final = HEIGHT_MM - MARGIN_MM - 36
_CODE_MM, _CODE_TOP_MM = 21.0, 8.0  # the QR code beside the first three lines; its quiet zone is white paper
_BESIDE_CODE_MM: Final = WIDTH_MM - 2 * MARGIN_MM - _CODE_MM - 4
_LINE_MM, _HEADING_MM, _SPACE_MM = 3.8, 4.7, 1.5  # a line of 8 points, a heading, the room below a section
_EXACT: Final = 2  # so few readings always fit exactly
_HABITS: Final = {
    "streak": 'a bare direction names the streak ("vertical" is the line of light)',
    "meridian": 'a bare direction names the meridian of power ("vertical" is the sweep)',
}


def write(kept: Kept) -> bytes:
    """The page as a file."""
    return report(kept.exam, kept.record, kept.rows[-1].hash, kept.journal.head())


def report(exam: str, record: ExamRecord, chain_end: str, head: Head | None = None) -> bytes:
    """The page as PDF, A4. What does not fit is counted on it, and is in full in the other exports.

    `head` is that of the whole record: against it the record can be held later.
    """
    sheet = Sheet(f"Retinoscopy {exam}", record.events[-1].at)
    found, beside = refractions(record), further(record)
    if head is not None:
        sheet.squares(qr_rows(str(head)), WIDTH_MM - MARGIN_MM - _CODE_MM, _CODE_TOP_MM, _CODE_MM)
    _head(sheet, exam, record, found)
    top, ends = sheet.y, []
    for column, name in enumerate(EYES):
        sheet.y, x = top, MARGIN_MM + column * (_COLUMN_MM + _GAP_MM)
        _eye(sheet, name, [each for each in found if each.eye == name], x, record.state.writing)
        _beside(sheet, [each for each in beside if each.about == name], x)
        ends.append(sheet.y)
    sheet.y = max(ends) + 3
    _sections(sheet, _whole_exam(sheet, record, beside))
    _foot(sheet, record, chain_end, head)
    return sheet.pdf()


def _head(sheet: Sheet, exam: str, record: ExamRecord, found: Sequence[Refraction]) -> None:
    sheet.line("Streak retinoscopy: objective finding", 16, "B")
    sheet.line(f"exam {exam}    begun {record.started.at:%Y-%m-%d %H:%M} UTC", 9)
    sheet.line(f"reference: {record.started.reference or '(none)'}", 9, "", MARGIN_MM, _BESIDE_CODE_MM)
    mirrors = " and ".join(dict.fromkeys(mirror for each in found for mirror in each.mirrors)) or "plane"
    distance = record.state.allowance.words()
    sheet.line(f"working distance {distance}    {mirrors} mirror    {_HABITS[record.started.naming]}", 9)
    sheet.down(1)
    sheet.rule()


def _eye(sheet: Sheet, name: EyeName, found: Sequence[Refraction], x: float, writing: Writing) -> None:
    """The refraction to go on with, drawn; the one of the other condition, dry or wet, below it in a line."""
    apart = len(found) > 1 or any(each.condition == "wet" for each in found)
    in_hand = next((each for each in found if each.in_hand), None)
    label = f", {in_hand.condition}" if in_hand is not None and apart else ""
    sheet.line(f"{name.capitalize()} eye{label}", 12, "B", x)
    if in_hand is None:
        sheet.line("nothing was read", 9, "G", x)
        return
    if in_hand.lens is None:
        sheet.line(f"{in_hand.status}: no result", 14, "BR", x)
        sheet.down(2)
    else:
        _result(sheet, in_hand, x)
    for each in found:
        if not each.in_hand:
            result = str(each.lens) if each.lens is not None else f"{each.status}: no result"
            sheet.line(f"{each.condition}: {result}", 11, "B", x, _COLUMN_MM)
    _method(sheet, in_hand, x)
    _readings(sheet, found, x, writing)
    for text in in_hand.problems[:_MOST_PROBLEMS]:
        sheet.line(f"! {text}", 8, "R", x, _COLUMN_MM)
    _more(sheet, len(in_hand.problems) - _MOST_PROBLEMS, x)


def _result(sheet: Sheet, finding: Refraction, x: float) -> None:
    if finding.lens is None:
        return
    sheet.line(str(finding.lens), 18, "B", x, _COLUMN_MM)
    equivalent = written_power(finding.lens.spherical_equivalent_d)
    sheet.line(f"spherical equivalent {equivalent}", 9, "", x, _COLUMN_MM)
    sheet.line(f"with its uncertainty: {finding.uncertainty}", 8, "", x, _COLUMN_MM)
    centre = sheet.y + _RADIUS_MM + 6
    sheet.cross(finding.lens, x + _COLUMN_MM / 2, centre, _RADIUS_MM)
    sheet.y = centre + _RADIUS_MM + 3


def _method(sheet: Sheet, finding: Refraction, x: float) -> None:
    if finding.technique is None:
        return
    distances = ", ".join(written_cm(each) for each in finding.distances_cm) or "not said"
    allowances = ", ".join(f"{each:.2f} D" for each in finding.allowances_d) or "none"
    sheet.line(f"method: {finding.technique}", 8, "", x, _COLUMN_MM)
    sheet.line(f"working distance {distances}, taken off {allowances}", 8, "", x, _COLUMN_MM)
    if finding.residual_d is not None and len(finding.neutral) > _EXACT:
        sheet.line(f"readings fit to {finding.residual_d:.2f} D", 8, "", x, _COLUMN_MM)


_COLUMNS: Final = (("streak", 0.0), ("power along", 13.0), ("seen", 33.0), ("gross", 48.0), ("net", 74.0))


def _readings(sheet: Sheet, found: Sequence[Refraction], x: float, writing: Writing) -> None:
    """The last readings of the eye; what one was not taken as usual with stands behind its gross power."""
    sheet.down(1)
    _cells(sheet, [heading for heading, _ in _COLUMNS], "G", x)
    readings = sorted((each for one in found for each in one.readings), key=lambda each: each.number)
    for each in readings[-_MOST_READINGS:]:
        _cells(sheet, _reading(each, writing), "", x)
    _more(sheet, len(readings) - _MOST_READINGS, x)
    sheet.down(1)


def _reading(reading: TakenReading, writing: Writing) -> list[str]:
    net = (
        writing.power_words(reading.net_d)
        if reading.motion == "neutral" and reading.net_d is not None
        else ""
    )
    marks = (
        (" +WL", reading.lens_in),
        (" concave", reading.entry.mirror == "concave"),
        (" wet", reading.entry.condition == "wet"),
    )
    return [
        written_axis(reading.entry.streak_deg),
        written_axis(reading.meridian_deg),
        reading.motion,
        writing.gross_words(reading.gross_d) + "".join(mark for mark, holds in marks if holds),
        net,
    ]


def _cells(sheet: Sheet, texts: list[str], style: str, x: float) -> None:
    for text, (_, offset) in zip(texts, _COLUMNS, strict=True):
        sheet.words(text, 8, style, x + offset)
    sheet.line("", 8)


def _beside(sheet: Sheet, found: Sequence[Further], x: float) -> None:
    """The subjective result apart, then the eye's further findings, as many as there is room for."""
    sheet.down(1)
    subjective = [each for each in found if each.code == SUBJECTIVE_CODE]
    for each in subjective:
        sheet.line(f"Subjective result: {each.text}", 11, "B", x, _COLUMN_MM)
    others = [each for each in found if each.code != SUBJECTIVE_CODE]
    room = int((_EYES_END_MM - sheet.y) / _LINE_MM)
    most = min(max(room, _LEAST_BESIDE), _MOST_BESIDE)
    for each in others[:most]:
        end = sheet.words(f"{each.name}: ", 8, "G", x, _COLUMN_MM)
        sheet.line(each.text, 8, "", end, x + _COLUMN_MM - end)
    _more(sheet, len(others) - most, x)


@dataclass(frozen=True, slots=True)
class _Section:
    """What stands below the eyes: lines or corrections by entry, and a grey note beside the heading."""

    title: str
    entries: Sequence[Sequence[str] | Fate]
    note: str = ""


def _whole_exam(sheet: Sheet, record: ExamRecord, beside: Sequence[Further]) -> list[_Section]:
    shared = "; ".join(f"{each.name}: {each.text}" for each in beside if each.about in ("both", None))
    added = [[f"{each.by}, {each.at:%Y-%m-%d}: {each.text}"] for each in record.addenda]
    added += [sheet.wrapped(f"{each.text}: {each.added.words}", 8) for each in record.added if each.added]
    sections = [
        _Section("Still open", [[each] for each in (*record.attested_otherwise, *record.unresolved)]),
        _Section("Both eyes", [sheet.wrapped(shared, 8)] if shared else []),
        _Section("Compared", [sheet.wrapped(each.text, 8) for each in compared(record)]),
        _Section("Remarks", [sheet.wrapped(each.text, 8) for each in remarked(record)], DEFERRING),
        _Section("Corrections", fates(record)),
        _Section("Added afterwards", added),
    ]
    return [each for each in sections if each.entries]


def _sections(sheet: Sheet, sections: Sequence[_Section]) -> None:
    """Every section with its heading; the room that is left goes round, an entry at a time."""
    needs = [[_lines(entry) for entry in each.entries] for each in sections]
    room = int((_FOOT_MM - sheet.y - len(sections) * (_HEADING_MM + _SPACE_MM)) / _LINE_MM)
    if sum(map(sum, needs)) > room:
        room -= len(sections)  # each may need a line that counts what is left out
    counts = _shares(needs, room)
    for count, each in zip(counts, sections, strict=True):
        end = sheet.words(each.title, 10, "B", MARGIN_MM)
        sheet.words(each.note, 7.5, "G", end + 3)
        sheet.down(_HEADING_MM)
        for entry in each.entries[:count]:
            _entry(sheet, entry)
        _more(sheet, len(each.entries) - count, MARGIN_MM)
        sheet.down(_SPACE_MM)


def _shares(needs: Sequence[Sequence[int]], lines: int) -> list[int]:
    """How many entries of each section are shown when `lines` lines go round; `needs` has the lines of each entry."""
    shown, more = [0] * len(needs), True
    while more:
        more = False
        for index, entries in enumerate(needs):
            if shown[index] < len(entries) and entries[shown[index]] <= lines:
                lines -= entries[shown[index]]
                shown[index] += 1
                more = True
    return shown


def _lines(entry: Sequence[str] | Fate) -> int:
    return 1 if isinstance(entry, Fate) else len(entry)


def _entry(sheet: Sheet, entry: Sequence[str] | Fate) -> None:
    if not isinstance(entry, Fate):
        for line in entry:
            sheet.line(line, 8)
        return
    start = sheet.words(f"{entry.id}  ", 8, "G", MARGIN_MM)
    end = sheet.words(entry.was, 8, "S", start, 70)
    sheet.line(entry.sentence, 8, "", end + 3)


def _more(sheet: Sheet, count: int, x: float) -> None:
    if count > 0:
        sheet.line(f"... and {count} more", 8, "G", x)


def _foot(sheet: Sheet, record: ExamRecord, chain_end: str, head: Head | None) -> None:
    sheet.y = _FOOT_MM
    sheet.rule()
    basis, judged = uncertainty_basis(record.state.writing)
    for text in (*CAUTIONS, f"Uncertainty, {basis}", judged):
        sheet.line(text, 7.5, "G")
    sheet.down(3)
    sheet.line(_attest_line(record.attested), 10, "B")
    sheet.down(1)
    sheet.line(f"voicelog {__version__}    {len(record.events)} events, chain ends in {chain_end}", 7, "G")
    words = [] if head is None else str(head).split()
    for part in (words[:5], words[5:]):
        sheet.line(" ".join(part), 6, "G")


def _attest_line(attested: Attested | None) -> str:
    if attested is None:
        return "Not attested.    Seen by ______________________    Date ______________"
    despite = f"; {len(attested.unresolved)} points open" if attested.unresolved else ""
    return f"Attested by {attested.by}, {attested.at:%Y-%m-%d %H:%M} UTC{despite}"
