"""One printed page: both power crosses, how they were found, how sure they are, what is open, and who vouches."""

from collections.abc import Sequence
from typing import Final

from voicelog import __version__
from voicelog.exam.state import EYES, EyeName, TakenReading
from voicelog.optics import meridian_to_streak_deg, written_axis, written_power
from voicelog.record.corrections import fates
from voicelog.record.events import Attested
from voicelog.record.exams import ExamRecord
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.findings import UNCERTAINTY_BASIS, Finding
from voicelog.record.export.sheet import HEIGHT_MM, MARGIN_MM, WIDTH_MM, Sheet

_GAP_MM: Final = 8.0
_COLUMN_MM: Final = (WIDTH_MM - 2 * MARGIN_MM - _GAP_MM) / 2
_RADIUS_MM: Final = 18.0
_MOST_READINGS, _MOST_REFLEXES, _MOST_PROBLEMS = 8, 2, 3
_CROWDED_MM: Final = 150.0  # eyes that reach further down than this leave less room for the rest
_EXACT: Final = 2  # so few readings always fit exactly
_HABITS: Final = {
    "streak": 'a bare direction names the streak ("vertical" is the line of light)',
    "meridian": 'a bare direction names the meridian of power ("vertical" is the sweep)',
}


def report(exam: str, record: ExamRecord, found: Sequence[Finding], chain_end: str) -> bytes:
    """The page as PDF, A4. What does not fit is counted on it, and is in full in the other exports."""
    sheet = Sheet(f"Retinoscopy {exam}", record.events[-1].at)
    _head(sheet, exam, record)
    by_eye = {each.eye: each for each in found if each.method == "retinoscopy"}
    top, ends = sheet.y, []
    for column, name in enumerate(EYES):
        sheet.y = top
        _eye(sheet, name, by_eye.get(name), MARGIN_MM + column * (_COLUMN_MM + _GAP_MM))
        ends.append(sheet.y)
    sheet.y = max(ends) + 3
    most = 6 if sheet.y < _CROWDED_MM else 3
    _section(sheet, "Still open", (*record.attested_otherwise, *record.unresolved), most)
    _corrections(sheet, record, most)
    added = [f"{each.by}, {each.at:%Y-%m-%d}: {each.text}" for each in record.addenda]
    _section(sheet, "Added afterwards", added, most)
    _foot(sheet, record, chain_end)
    return sheet.pdf()


def _head(sheet: Sheet, exam: str, record: ExamRecord) -> None:
    state = record.state
    sheet.line("Streak retinoscopy: objective finding", 16, "B")
    sheet.line(f"exam {exam}    begun {record.started.at:%Y-%m-%d %H:%M} UTC", 9)
    sheet.line(f"reference  {record.started.reference or '(none)'}", 9)
    distance = "not said" if state.distance_cm is None else f"{state.distance_cm:g} cm"
    mirror = "concave" if state.concave_mirror else "plane"
    sheet.line(f"working distance {distance}    {mirror} mirror    {_HABITS[record.started.naming]}", 9)
    sheet.down(1)
    sheet.rule()


def _eye(sheet: Sheet, name: EyeName, finding: Finding | None, x: float) -> None:
    sheet.line(f"{name.capitalize()} eye", 12, "B", x)
    if finding is None:
        sheet.line("nothing was read", 9, "G", x)
        return
    if finding.lens is None:
        sheet.line(f"{finding.status}: no result", 14, "BR", x)
        sheet.down(2)
    else:
        _result(sheet, finding, x)
    _method(sheet, finding, x)
    _readings(sheet, finding, x)
    reflexes = [
        f"reflex {reflex}" + (f" along {meridian}" if meridian else "")
        for reflex, meridian in finding.reflexes
    ]
    for text in reflexes[:_MOST_REFLEXES]:
        sheet.line(text, 8, "", x, _COLUMN_MM)
    for text in finding.problems[:_MOST_PROBLEMS]:
        sheet.line(f"! {text}", 8, "R", x, _COLUMN_MM)
    _more(sheet, len(finding.problems) - _MOST_PROBLEMS, x)


def _result(sheet: Sheet, finding: Finding, x: float) -> None:
    if finding.lens is None:
        return
    sheet.line(str(finding.lens), 18, "B", x, _COLUMN_MM)
    equivalent = written_power(finding.lens.spherical_equivalent_d)
    sheet.line(f"spherical equivalent {equivalent}", 9, "", x, _COLUMN_MM)
    sheet.line(f"with its uncertainty: {finding.uncertainty}", 8, "", x, _COLUMN_MM)
    centre = sheet.y + _RADIUS_MM + 6
    sheet.cross(finding.lens, x + _COLUMN_MM / 2, centre, _RADIUS_MM)
    sheet.y = centre + _RADIUS_MM + 5


def _method(sheet: Sheet, finding: Finding, x: float) -> None:
    if finding.technique is None:
        return
    distances = ", ".join(f"{each:g} cm" for each in finding.distances_cm) or "not said"
    allowances = ", ".join(f"{each:.2f} D" for each in finding.allowances_d) or "none"
    sheet.line(f"method: {finding.technique}", 8, "", x, _COLUMN_MM)
    sheet.line(f"working distance {distances}, taken off {allowances}", 8, "", x, _COLUMN_MM)
    neutral = [each for each in finding.readings if each.motion == "neutral"]
    if finding.residual_d is not None and len(neutral) > _EXACT:
        sheet.line(f"readings fit to {finding.residual_d:.2f} D", 8, "", x, _COLUMN_MM)


_COLUMNS: Final = (("streak", 0.0), ("power along", 13.0), ("seen", 33.0), ("gross", 48.0), ("net", 74.0))


def _readings(sheet: Sheet, finding: Finding, x: float) -> None:
    sheet.down(1)
    _cells(sheet, [heading for heading, _ in _COLUMNS], "G", x)
    for each in finding.readings[-_MOST_READINGS:]:
        _cells(sheet, _reading(each), "", x)
    _more(sheet, len(finding.readings) - _MOST_READINGS, x)
    sheet.down(1)


def _reading(reading: TakenReading) -> list[str]:
    net = written_power(reading.net_d) if reading.motion == "neutral" and reading.net_d is not None else ""
    return [
        written_axis(meridian_to_streak_deg(reading.meridian_deg)),
        written_axis(reading.meridian_deg),
        reading.motion,
        f"{written_power(reading.gross_d)}{' +WL' if reading.lens_in else ''}",
        net,
    ]


def _cells(sheet: Sheet, texts: list[str], style: str, x: float) -> None:
    for text, (_, offset) in zip(texts, _COLUMNS, strict=True):
        sheet.words(text, 8, style, x + offset)
    sheet.line("", 8)


def _corrections(sheet: Sheet, record: ExamRecord, most: int) -> None:
    changed = fates(record)
    if not changed:
        return
    sheet.line("Corrections", 10, "B")
    for fate in changed[:most]:
        start = sheet.words(f"{fate.number}  ", 8, "G", MARGIN_MM)
        end = sheet.words(fate.was, 8, "S", start, 70)
        sheet.line(fate.sentence, 8, "", end + 3)
    _more(sheet, len(changed) - most, MARGIN_MM)
    sheet.down(1.5)


def _section(sheet: Sheet, title: str, texts: Sequence[str], most: int) -> None:
    if not texts:
        return
    sheet.line(title, 10, "B")
    for text in texts[:most]:
        sheet.line(text, 8)
    _more(sheet, len(texts) - most, MARGIN_MM)
    sheet.down(1.5)


def _more(sheet: Sheet, count: int, x: float) -> None:
    if count > 0:
        sheet.line(f"... and {count} more", 8, "G", x)


def _foot(sheet: Sheet, record: ExamRecord, chain_end: str) -> None:
    sheet.y = HEIGHT_MM - MARGIN_MM - 36
    sheet.rule()
    for text in (*CAUTIONS, f"Uncertainty, {UNCERTAINTY_BASIS[0]}", UNCERTAINTY_BASIS[1]):
        sheet.line(text, 7.5, "G")
    sheet.down(3)
    sheet.line(_attest_line(record.attested), 10, "B")
    sheet.down(1)
    sheet.line(f"voicelog {__version__}    {len(record.events)} events, chain ends in {chain_end}", 7, "G")


def _attest_line(attested: Attested | None) -> str:
    if attested is None:
        return "Not attested.    Seen by ______________________    Date ______________"
    despite = f"; {len(attested.unresolved)} points open" if attested.unresolved else ""
    return f"Attested by {attested.by}, {attested.at:%Y-%m-%d %H:%M} UTC{despite}"
