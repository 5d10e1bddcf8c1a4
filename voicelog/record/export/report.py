"""The printed page, or two: power crosses, how they were found and how sure they are, further findings, who vouches."""

from collections.abc import Sequence
from typing import Final

from voicelog import __version__
from voicelog.exam.pass_state import TakenReading, Writing
from voicelog.exam.remarks import DEFERRING
from voicelog.exam.state import EYES, EyeName
from voicelog.optics import written_axis, written_cm, written_power
from voicelog.record.corrections import fates
from voicelog.record.events import Attested
from voicelog.record.exams import ExamRecord
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.further import SUBJECTIVE_CODE, Further, compared, further, remarked
from voicelog.record.export.kept import Kept
from voicelog.record.export.refractions import Refraction, refractions, uncertainty_basis
from voicelog.record.export.sections import LINE_MM, SIZE, Section, lay, more
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
_OVERLEAF, _ELSEWHERE = "overleaf", "in the other exports"
_MOST_LINES: Final = 4  # of one text on the second page
_EXACT: Final = 2  # so few readings always fit exactly
_HABITS: Final = {
    "streak": 'a bare direction names the streak ("vertical" is the line of light)',
    "meridian": 'a bare direction names the meridian of power ("vertical" is the sweep)',
}


def write(kept: Kept) -> bytes:
    """The page as a file."""
    return report(kept.exam, kept.record, kept.rows[-1].hash, kept.journal.head())


def report(exam: str, record: ExamRecord, chain_end: str, head: Head | None = None) -> bytes:
    """The page as PDF, A4. What has no room on it is counted there, and stands on a second one.

    What has no room there either is counted once more, and is in full in the other exports.

    `head` is that of the whole record: against it the record can be held later.
    """
    sheet = Sheet(f"Retinoscopy {exam}", record.events[-1].at)
    found, beside = refractions(record), further(record)
    if head is not None:
        sheet.squares(qr_rows(str(head)), WIDTH_MM - MARGIN_MM - _CODE_MM, _CODE_TOP_MM, _CODE_MM)
    _head(sheet, exam, record, found)
    top, ends, rest = sheet.y, [], list[Section]()
    for column, name in enumerate(EYES):
        sheet.y, x = top, MARGIN_MM + column * (_COLUMN_MM + _GAP_MM)
        rest += _eye(sheet, name, [each for each in found if each.eye == name], x, record.state.writing)
        rest += _beside(sheet, name, [each for each in beside if each.about == name], x)
        ends.append(sheet.y)
    sheet.y = max(ends) + 3
    rest += lay(sheet, _whole_exam(sheet, record, beside), _FOOT_MM, _OVERLEAF)
    _foot(sheet, record, chain_end, head)
    if rest or sheet.cut:
        _second_page(sheet, exam, rest)
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


def _eye(
    sheet: Sheet, name: EyeName, found: Sequence[Refraction], x: float, writing: Writing
) -> list[Section]:
    """The refraction to go on with, drawn; the one of the other condition, dry or wet, below it in a line.

    Gives back what has no room.
    """
    apart = len(found) > 1 or any(each.condition == "wet" for each in found)
    in_hand = next((each for each in found if each.in_hand), None)
    label = f", {in_hand.condition}" if in_hand is not None and apart else ""
    sheet.line(f"{name.capitalize()} eye{label}", 12, "B", x)
    if in_hand is None:
        sheet.line("nothing was read", 9, "G", x)
        return []
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
    earlier = _readings(sheet, found, x, writing)
    for text in in_hand.problems[:_MOST_PROBLEMS]:
        sheet.line(f"! {text}", SIZE, "R", x, _COLUMN_MM)
    problems = in_hand.problems[_MOST_PROBLEMS:]
    more(sheet, len(problems), x, _OVERLEAF)
    left_out = [
        Section(f"{name.capitalize()} eye, readings before those", earlier),
        Section(f"{name.capitalize()} eye, further", [_wrapped(sheet, f"! {each}") for each in problems]),
    ]
    return [each for each in left_out if each.entries]


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


def _readings(sheet: Sheet, found: Sequence[Refraction], x: float, writing: Writing) -> list[list[str]]:
    """The last readings of the eye; what one was not taken as usual with stands behind its gross power.

    Gives back those before them, a line each.
    """
    sheet.down(1)
    _cells(sheet, [heading for heading, _ in _COLUMNS], "G", x)
    readings = sorted((each for one in found for each in one.readings), key=lambda each: each.number)
    for each in readings[-_MOST_READINGS:]:
        _cells(sheet, _reading(each, writing), "", x)
    before = readings[:-_MOST_READINGS]
    more(sheet, len(before), x, _OVERLEAF)
    sheet.down(1)
    return [[_in_a_line(_reading(each, writing))] for each in before]


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


def _in_a_line(cells: Sequence[str]) -> str:
    """ "streak 090, power along 180, with, gross +2.00"."""
    named = zip(_COLUMNS, cells, strict=True)
    return ", ".join(
        text if heading == "seen" else f"{heading} {text}" for (heading, _), text in named if text
    )


def _cells(sheet: Sheet, texts: list[str], style: str, x: float) -> None:
    for text, (_, offset) in zip(texts, _COLUMNS, strict=True):
        sheet.words(text, 8, style, x + offset)
    sheet.line("", 8)


def _beside(sheet: Sheet, name: EyeName, found: Sequence[Further], x: float) -> list[Section]:
    """The subjective result apart, then the eye's further findings, as many as have room; the rest is given back."""
    sheet.down(1)
    subjective = [each for each in found if each.code == SUBJECTIVE_CODE]
    for each in subjective:
        sheet.line(f"Subjective result: {each.text}", 11, "B", x, _COLUMN_MM)
    others = [each for each in found if each.code != SUBJECTIVE_CODE]
    room = int((_EYES_END_MM - sheet.y) / LINE_MM)
    most = min(max(room, _LEAST_BESIDE), _MOST_BESIDE)
    for each in others[:most]:
        end = sheet.words(f"{each.name}: ", 8, "G", x, _COLUMN_MM)
        sheet.line(each.text, 8, "", end, x + _COLUMN_MM - end)
    rest = others[most:]
    more(sheet, len(rest), x, _OVERLEAF)
    texts = [_wrapped(sheet, f"{each.name}: {each.text}") for each in rest]
    return [Section(f"{name.capitalize()} eye, further", texts)] if texts else []


def _whole_exam(sheet: Sheet, record: ExamRecord, beside: Sequence[Further]) -> list[Section]:
    shared = "; ".join(f"{each.name}: {each.text}" for each in beside if each.about in ("both", None))
    added = [_wrapped(sheet, f"{each.by}, {each.at:%Y-%m-%d}: {each.text}") for each in record.addenda]
    added += [_wrapped(sheet, f"{each.text}: {each.added.words}") for each in record.added if each.added]
    sections = [
        Section("Still open", [[each] for each in (*record.attested_otherwise, *record.unresolved)]),
        Section("Both eyes", [_wrapped(sheet, shared)] if shared else []),
        Section("Compared", [_wrapped(sheet, each.text) for each in compared(record)]),
        Section("Remarks", [_wrapped(sheet, each.text) for each in remarked(record)], DEFERRING),
        Section("Corrections", fates(record)),
        Section("Added afterwards", added),
    ]
    return [each for each in sections if each.entries]


def _wrapped(sheet: Sheet, text: str) -> list[str]:
    return sheet.wrapped(text, SIZE, _MOST_LINES)


def _second_page(sheet: Sheet, exam: str, rest: Sequence[Section]) -> None:
    """What had no room on the first, and what was cut short there."""
    cut = Section("Cut short overleaf", [_wrapped(sheet, each) for each in dict.fromkeys(sheet.cut)])
    sheet.turn()
    sheet.line(f"Streak retinoscopy, exam {exam}, page 2", 12, "B")
    sheet.line(CAUTIONS[0], 7.5, "G")
    sheet.down(1)
    sheet.rule()
    lay(sheet, [*rest, *([cut] if cut.entries else [])], HEIGHT_MM - MARGIN_MM, _ELSEWHERE)


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
