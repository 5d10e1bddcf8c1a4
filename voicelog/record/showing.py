"""Exams as tables for the terminal. Every text from outside is made inert first."""

from collections.abc import Sequence
from datetime import datetime

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from voicelog.exam.events import Said
from voicelog.exam.remarks import DEFERRING
from voicelog.record.clips import Clips
from voicelog.record.corrections import fates
from voicelog.record.events import Addendum, Amended, Attested, ClipsExpired, RecordEvent
from voicelog.record.exams import ExamRecord
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.findings import findings
from voicelog.record.export.further import Further, compared, further, remarked
from voicelog.record.inert import inert
from voicelog.record.overviews import Overview, unescaped

_LONGEST = 300  # characters of one text; the JSON export has all of it
_MARKS = {"accepted": "✓", "asked": "?", "ignored": "·"}


def exams_table(found: Sequence[Overview]) -> Table:
    """One line an exam."""
    table = Table(box=None, padding=(0, 1))
    for heading in ("exam", "begun", "reference", "right eye", "left eye", "state"):
        table.add_column(heading, overflow="fold", no_wrap=heading in ("exam", "right eye", "left eye"))
    for each in found:
        state = "open points" if each.unresolved else "complete"
        if each.attested_by is not None:
            state = f"attested {inert(unescaped(each.attested_by))}"
        table.add_row(
            each.id,
            local_time(datetime.fromisoformat(each.started_at)),
            Text(inert(unescaped(each.reference), 60)),
            each.right_result or each.right_status,
            each.left_result or each.left_status,
            Text(state),
        )
    return table


def exam_view(exam: str, record: ExamRecord, clips: Clips) -> RenderableType:
    """An exam whole: results and further findings, the ledger with corrections struck through and their reasons.

    Then what is open, comparisons, remarks and cautions.
    """
    parts: list[RenderableType] = [_head(exam, record)]
    for finding in findings(record):
        result = str(finding.lens) if finding.lens else finding.status
        sure = f"   ({finding.uncertainty})" if finding.uncertainty else ""
        name = f"{finding.eye} eye" + (", refined" if finding.method == "refined" else "")
        parts.append(Text(f"{name}: {result}{sure}", style="bold"))
        parts += [Text(f"  ! {inert(text)}", style="yellow") for text in finding.problems]
    parts += [Text(f"{_whose(each)}{each.name} {inert(each.text)}") for each in further(record)]
    parts.append(_ledger(exam, record, clips))
    if record.attested is not None:
        parts += [Text(f"! {inert(text)}", style="bold yellow") for text in record.attested_otherwise]
        parts += [Text(f"open when attested: {inert(text)}") for text in record.attested.unresolved]
    else:
        parts += [Text(f"open: {inert(text)}", style="yellow") for text in record.unresolved]
    parts += [Text(f"compared: {inert(each.text)}") for each in compared(record)]
    about = remarked(record)
    parts += [Text(f"remark: {inert(each.text)} (source: {each.source})") for each in about]
    parts += [Text(text, style="dim") for text in ((DEFERRING,) if about else ())]
    parts += [Text(text, style="dim") for text in CAUTIONS]
    return Group(*parts)


def _whose(found: Further) -> str:
    if found.about is None:
        return ""
    return "both eyes: " if found.about == "both" else f"{found.about} eye: "


def local_time(at: datetime) -> str:
    """A time as the clock on the wall shows it."""
    return f"{at.astimezone():%Y-%m-%d %H:%M}"


def _head(exam: str, record: ExamRecord) -> Text:
    state = record.state
    distance = "not said" if state.distance_cm is None else f"{state.distance_cm:g} cm"
    return Text(
        f"exam {exam}   begun {local_time(record.started.at)}   reference {inert(state.reference, 60) or '(none)'}\n"
        f"a bare direction names the {state.naming}   working distance {distance}   "
        f"{'concave' if state.concave_mirror else 'plane'} mirror"
    )


def _ledger(exam: str, record: ExamRecord, clips: Clips) -> Table:
    table = Table(box=None, padding=(0, 1))
    for heading in ("no.", "at", "", "said", "what became of it", "sound"):
        table.add_column(heading, overflow="fold", justify="right" if heading == "no." else "left")
    changed = {fate.number: fate for fate in fates(record)}
    for event in record.events[1:]:
        mark, text = _what(event)
        words = Text(inert(text, _LONGEST))
        fate = changed.get(event.number)
        became = _reply(event)
        if fate is not None:
            # Struck through for the eye, and between tildes where a terminal cannot show that.
            words = Text(f"~~{inert(text, _LONGEST)}~~", style="strike")
            became = fate.sentence
        sound = _sound(exam, event, record, clips)
        at = f"{event.at.astimezone():%H:%M:%S}"
        table.add_row(str(event.number), at, mark, words, Text(inert(became, _LONGEST)), sound)
    return table


def _what(event: RecordEvent) -> tuple[str, str]:
    match event:
        case Said():
            return _MARKS[event.outcome], event.text
        case Amended():
            return "✎", f"entry {event.entry} amended by {event.by}: {event.text or 'taken out'}"
        case Attested():
            return "✔", f"attested by {event.by}"
        case Addendum():
            return "+", f"added by {event.by}: {event.text}"
        case ClipsExpired():
            return "·", f"{len(event.clips)} clips were kept for {event.days} days"
        case _:
            return "", ""


def _reply(event: RecordEvent) -> str:
    if isinstance(event, Amended):
        return event.reason
    if isinstance(event, Said):
        return "left out" if event.outcome == "ignored" else event.reply
    return ""


def _sound(exam: str, event: RecordEvent, record: ExamRecord, clips: Clips) -> str:
    heard = event.heard if isinstance(event, Said) else None
    if heard is None or heard.clip_s is None:
        return ""
    if heard.clip is None:
        return f"{heard.clip_s:.1f} s, not kept"
    if heard.clip in record.expired:
        return f"{heard.clip_s:.1f} s, expired"
    return f"{heard.clip_s:.1f} s" + ("" if clips.path(exam, heard.clip).exists() else ", missing")
