"""The exam on a terminal with little room: turn, open question, last value and both refractions are always in sight.

Nothing is cut within: where all replies to a line have no room, whole ones are left out, the last first, and how many
is said. What room is left is filled with the lines before. `fitting` chooses between this and the whole screen.
"""

from collections.abc import Iterable, Iterator, Sequence
from typing import Final

from rich.console import Console, Group, RenderableType
from rich.table import Table
from rich.text import Text

from voicelog.exam.acuity_lines import Notation
from voicelog.exam.entries import EyeEntry, PlaceEntry
from voicelog.exam.events import Line
from voicelog.exam.state import EYES, ExamState, EyeName
from voicelog.screen.by_hand import ORDERS
from voicelog.screen.eyes import condition_words, progress_words
from voicelog.screen.rows import contradicts, rows_of, waiting_words
from voicelog.screen.status import Status, troubles, turn_line, typed_line
from voicelog.screen.terminal import CAUTION, STATUS_STYLE, screen

LEAST_ROWS: Final = 40
"""On fewer the whole screen has no room for more than the first readings."""
_MARKS: Final = {
    "accepted": ("✓ entered", "green"),
    "asked": ("? asked", "bold yellow"),
    "contradicts": ("! CONTRADICTS", "bold red reverse"),
    "answered": ("◂ answer", "green"),
    "ignored": ("· left out", "dim"),
}
_KEYS: Final = "   ".join(f"{each.key} {each.phrase}" for each in ORDERS)


def fitting(
    console: Console, state: ExamState, status: Status, notation: Notation | None = None
) -> RenderableType:
    """The whole screen where it has room, else the small one, in any case with the sound beneath or above it."""
    if console.size.height >= LEAST_ROWS:
        beneath = (*troubles(status), turn_line(status), *typed_line(status))
        whole = Group(screen(state, notation=notation), *beneath)
        if len(console.render_lines(whole, pad=False)) <= console.size.height:
            return whole
    return small(console, state, status)


def small(console: Console, state: ExamState, status: Status) -> RenderableType:
    """At most as many lines as the console has rows; what has a fixed place stands above."""
    above = [
        *_wrapped(console, [turn_line(status), *troubles(status)]),
        *_eyes(console, state),
        *_wrapped(console, [*_asked(state), *_value(state)]),
    ]
    typed = _wrapped(console, typed_line(status))
    lines = [event for event in state.events if isinstance(event, Line)]
    last = _last(console, state, lines, console.size.height - len(above) - len(typed))
    room = console.size.height - len(above) - len(typed) - len(last)
    beneath = list[Text]()
    for further in (Text(CAUTION, style="dim"), Text(f"keys: {_KEYS}", style="dim")):
        wrapped = _wrapped(console, [further])
        if len(wrapped) <= room:
            beneath += wrapped
            room -= len(wrapped)
    return Group(*above, *_before(console, state, lines[:-1], room), *last, *typed, *beneath)


def _eyes(console: Console, state: ExamState) -> list[Text]:
    """Both refractions beside each other, or how far each eye is."""
    table = Table.grid(expand=True, padding=(0, 1))
    for _ in EYES:
        table.add_column(ratio=1)
    table.add_row(*(_eye(name, state) for name in EYES))
    return [
        Text.assemble(*((segment.text, segment.style or "") for segment in line))
        for line in console.render_lines(table, pad=False)
    ]


def _eye(name: EyeName, state: ExamState) -> Text:
    eye = state.eyes[name]
    net = eye.result or eye.solution.net
    text = Text(f"{name.upper()} EYE", style="bold")
    text.append("  ◀ now" if state.eye == name else "", style="bold")
    text.append(f"  {eye.status}, {condition_words(eye)}\n", style="dim")
    text.append(str(net) if net is not None else progress_words(eye), style=STATUS_STYLE[eye.status])
    return text


def _last(console: Console, state: ExamState, lines: Sequence[Line], room: int) -> list[Text]:
    """What was said last, and what came of it."""
    if not lines:
        return _wrapped(console, [Text("say: right eye", style="dim")])
    told = list(_told(state, lines[-1]))
    mark, style = _MARKS[_mark(state, lines[-1])]
    said = Text(f"{mark}: {lines[-1].text}" if lines[-1].text else mark, style=style)
    for left in range(len(told), -1, -1):
        more = f"and {len(told) - left} more in the log" if left < len(told) else ""
        found = _wrapped(console, [said, *(Text(f"  {text}") for text in (*told[:left], more) if text)])
        if len(found) <= room:
            break
    return found


def _value(state: ExamState) -> Iterator[Text]:
    """The last entry that is more than an eye; none where there is none."""
    rows = (row for row in reversed(state.ledger.live) if not isinstance(row.entry, EyeEntry | PlaceEntry))
    for row in rows:
        yield Text(f"last value: {row.entry.words()}", style="bold")
        return


def _told(state: ExamState, line: Line) -> Iterator[str]:
    """Each reply; the open question stands elsewhere."""
    question = "" if state.question is None else state.question.text
    for row in rows_of(state, line):
        text = row.reply.removesuffix(question).rstrip(" ;:") if question else row.reply
        if text:
            yield f"{text}, now {row.now}" if row.now else text


def _mark(state: ExamState, line: Line) -> str:
    if contradicts(line, state):
        return "contradicts"
    return "answered" if line.outcome == "accepted" and not line.acts else line.outcome


def _asked(state: ExamState) -> Iterator[Text]:
    """The question in hand in full, and how much is behind it."""
    if state.question is None:
        return
    yield Text(f"? ASKED: {state.question.text}", style="bold yellow")
    others = len(state.dialogue.questions) - 1
    behind = (f"{others} more asked" if others else "", waiting_words(state))
    if any(behind):
        yield Text("  " + "; ".join(text for text in behind if text), style="yellow")


def _before(console: Console, state: ExamState, lines: Sequence[Line], room: int) -> list[Text]:
    """The lines before the last, as many as have room, whole."""
    found = list[Text]()
    for line in reversed(lines):
        rows = rows_of(state, line)
        became = "; ".join(row.reply if row.fate == "live" else f"{row.reply} [{row.fate}]" for row in rows)
        mark = _MARKS[line.outcome][0].split()[0]
        wrapped = _wrapped(console, [Text(f"{mark} {line.text}: {became}".rstrip(": "), style="dim")])
        if len(found) + len(wrapped) > room:
            break
        found = [*wrapped, *found]
    return found


def _wrapped(console: Console, texts: Iterable[Text]) -> list[Text]:
    """Lines that are no longer than the console is wide."""
    return [line for text in texts for line in text.wrap(console, console.size.width)]
