"""Exams as tables for the terminal. Every text from outside is made inert first."""

from collections.abc import Sequence
from datetime import datetime

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from voicelog.exam.events import Line
from voicelog.exam.ledger import Row
from voicelog.exam.remarks import DEFERRING
from voicelog.exam.state import ExamState
from voicelog.record.clips import Clips
from voicelog.record.corrections import Fate, fates
from voicelog.record.events import Addendum, Amended, Attested, ClipsExpired, RecordEvent
from voicelog.record.exams import ExamRecord
from voicelog.record.export.cautions import CAUTIONS
from voicelog.record.export.further import Further, compared, further, remarked
from voicelog.record.export.refractions import refractions
from voicelog.record.inert import inert
from voicelog.record.old_events import OldAmended
from voicelog.record.overviews import Overview, unescaped
from voicelog.record.plain import counted, labelled

_LONGEST = 300  # characters of one text; the JSON export has all of it
_MARKS = {"accepted": "✓", "asked": "?", "ignored": "·"}


def exams_table(found: Sequence[Overview]) -> Table:
    """One line an exam."""
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False)
    for heading in ("exam", "begun", "reference", "right eye", "left eye", "state"):
        whole = {"exam": 17, "begun": 10, "reference": 9}.get(
            heading
        )  # or a narrow terminal leaves them no room
        table.add_column(heading, overflow="fold", no_wrap=heading == "exam", min_width=whole)
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
    for found in refractions(record):
        result = str(found.lens) if found.lens else found.status
        sure = f"   ({found.uncertainty})" if found.uncertainty else ""
        plain = set(record.eyes[found.eye].conditions) == {"dry"}
        name = f"{found.eye} eye" + ("" if plain else f", {found.condition}")
        parts.append(Text(f"{name}: {result}{sure}", style="bold"))
        parts += [Text(f"  ! {inert(text)}", style="yellow") for text in found.problems]
    parts += [Text(f"{_whose(each)}{inert(labelled(each.name, each.text))}") for each in further(record)]
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
    return Text(
        f"exam {exam}   begun {local_time(record.started.at)}   reference {inert(state.reference, 60) or '(none)'}\n"
        f"a bare direction names the {state.naming}   {_distance(state)}   "
        f"{state.mirror} mirror"
    )


def _distance(state: ExamState) -> str:
    """The distance in force, or that none was said."""
    words = state.allowance.words()
    return f"working {words}" if words.startswith("distance") else f"working distance {words}"


def _ledger(exam: str, record: ExamRecord, clips: Clips) -> Table:
    """Every event; each entry of a line but the first has a row of its own below it, named as "12.2"."""
    table = Table(box=None, padding=(0, 1))
    for heading in ("no.", "at", "", "said", "what became of it", "sound"):
        table.add_column(heading, overflow="fold", justify="right" if heading == "no." else "left")
    changed = {fate.id: fate for fate in fates(record)}
    further_entries: dict[int, list[Row]] = {}
    for row in record.state.ledger.rows.values():
        if row.id != str(row.number):
            further_entries.setdefault(row.number, []).append(row)
    for event in record.events[1:]:
        line = record.lines.get(event.number)
        mark, text = _what(event, record, line)
        words, became = _struck(text, changed.get(str(event.number)), _reply(event, record, line))
        at = f"{event.at.astimezone():%H:%M:%S}"
        table.add_row(str(event.number), at, mark, words, became, _sound(exam, line, record, clips))
        for row in further_entries.get(event.number, ()):
            words, became = _struck(row.original.words(), changed.get(row.id), "")
            table.add_row(row.id, "", "", words, became, "")
    return table


def _struck(text: str, fate: Fate | None, reply: str) -> tuple[Text, Text]:
    """What was said, and what became of it; struck through when it no longer counts as it was."""
    if fate is None:
        return Text(inert(text, _LONGEST)), Text(inert(reply, _LONGEST))
    # Struck through for the eye, and between tildes where a terminal cannot show that.
    return Text(f"~~{inert(text, _LONGEST)}~~", style="strike"), Text(inert(fate.sentence, _LONGEST))


def _what(event: RecordEvent, record: ExamRecord, line: Line | None) -> tuple[str, str]:
    if line is not None:
        return _MARKS[line.outcome], line.text
    amendment = record.amendments.get(event.number)
    if amendment is not None:
        return "✎", amendment.what
    match event:
        case OldAmended():
            return "✎", f"entry {event.entry} amended by {event.by}: {event.text or 'taken out'}"
        case Attested():
            return "✔", f"attested by {event.by}"
        case Addendum():
            return "+", f"added by {event.by}: {event.text}"
        case ClipsExpired():
            return "·", (
                f"{counted(len(event.clips), 'clip')} kept for {counted(event.days, 'day')} and then removed"
            )
        case _:
            return "", ""


def _reply(event: RecordEvent, record: ExamRecord, line: Line | None) -> str:
    why = record.not_taken_up.get(event.number)
    if why is not None:
        return f"not taken up: {why}"
    if isinstance(event, Amended | OldAmended):
        return event.reason
    if line is not None:
        reply = "left out" if line.outcome == "ignored" else line.reply
        return reply if line.added is None else f"{line.added.words}; {reply}"
    return ""


def _sound(exam: str, line: Line | None, record: ExamRecord, clips: Clips) -> str:
    heard = None if line is None else line.heard
    if heard is None or heard.clip_s is None:
        return ""
    if heard.clip is None:
        return f"{heard.clip_s:.1f} s, not kept"
    if heard.clip in record.expired:
        return f"{heard.clip_s:.1f} s, expired"
    return f"{heard.clip_s:.1f} s" + ("" if clips.path(exam, heard.clip).exists() else ", missing")
