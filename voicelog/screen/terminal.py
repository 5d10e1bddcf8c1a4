"""The exam in a terminal: both eyes, the ledger, and what was asked or left out."""

from collections.abc import Sequence

from rich.console import Console, Group, RenderableType
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from voicelog.exam.acuity_lines import Notation
from voicelog.exam.entries import DropsEntry
from voicelog.exam.events import Line
from voicelog.exam.protocol import still_missing
from voicelog.exam.remarks import remarks
from voicelog.exam.state import EYES, ExamState, EyeName, EyeState
from voicelog.optics import SpheroCylinder, written_cm, written_power
from voicelog.record.inert import inert
from voicelog.record.plain import labelled
from voicelog.screen.cross import power_cross
from voicelog.screen.eyes import (
    condition_words,
    estimate_words,
    lens_words,
    mean_words,
    pass_words,
    result_words,
    shown_readings,
)
from voicelog.screen.findings import Labelled, labelled_findings
from voicelog.screen.rows import rows_of, waiting_words

CAUTION = (
    "An objective finding: a starting point for refinement by a licensed person, not a prescription. "
    "Local rules and licensed practice come first."
)
MARKS = {"accepted": "✓", "asked": "?", "ignored": "·"}
"""What stands before a line: entered, asked about, left out."""
_STYLES = {"accepted": "green", "asked": "yellow", "ignored": "dim"}
STATUS_STYLE = {"solved": "bold green", "conflict": "bold red", "incomplete": "yellow", "empty": "dim"}


def screen(state: ExamState, *, rows: int = 14, notation: Notation | None = None) -> RenderableType:
    """The whole screen; the ledger shows its last `rows` lines, acuity is written in `notation` or as it was said."""
    eyes = Table.grid(expand=True, padding=(0, 1))
    for _ in EYES:
        eyes.add_column(ratio=1)
    eyes.add_row(*(_eye_panel(name, state) for name in EYES))
    further = _further(labelled_findings(state, notation), _drops_cautions(state))
    parts = [
        _head(state),
        eyes,
        *([further] if further else []),
        _ledger(state, rows),
        *_asked(state),
        Text(CAUTION, style="dim"),
    ]
    return Group(*parts)


def _drops_cautions(state: ExamState) -> list[str]:
    """What usual practice says of the drops that were given, each once."""
    agents = [each.agent for _, each in state.findings.of(DropsEntry)]
    return list(dict.fromkeys(each.advice for each in remarks("drops", {"agent": agents})))


def _further(found: Sequence[Labelled], cautions: Sequence[str]) -> Panel | None:
    """What was found beside the readings: a line for each eye, one for both; nothing where there is nothing."""
    table = Table(box=None, show_header=False, padding=(0, 1))
    for name in ("right", "left", "both", None):
        of_eye = [labelled(each.label, each.text) for each in found if each.eye == name]
        if of_eye:
            title = "" if name is None else "both eyes" if name == "both" else f"{name} eye"
            table.add_row(Text(title, style="bold"), Text(inert("   ".join(of_eye))))
    for caution in cautions:
        table.add_row(Text("drops", style="dim"), Text(caution, style="dim"))
    return Panel(table, title="further findings") if found else None


def _head(state: ExamState) -> RenderableType:
    distance = "not said" if state.distance_cm is None else written_cm(state.distance_cm)
    text = (
        f"a bare direction names the {state.naming}   working distance {distance}   "
        f"working distance lens {lens_words(state.allowance)}   {state.mirror} mirror"
    )
    return Text(text, style="bold")


def _eye_panel(name: EyeName, state: ExamState) -> Panel:
    eye = state.eyes[name]
    parts: list[RenderableType] = []
    if eye.readings:
        parts += _readings(eye, state)
    if eye.solution.net is not None:
        parts += _result(eye, eye.solution.net)
    estimate = estimate_words(eye)
    if estimate:
        parts.append(Text(estimate, style="yellow"))
    parts += _passes(eye)
    parts += [Text(inert(f"! {problem.text}"), style="yellow") for problem in eye.problems]
    title = f"{name} eye" + ("  ◀ now" if state.eye == name else "")
    return Panel(
        Group(*parts) if parts else Text("nothing read yet", style="dim"),
        title=title,
        subtitle=f"{eye.status}, {condition_words(eye)}",
    )


def _result(eye: EyeState, net: SpheroCylinder) -> list[RenderableType]:
    parts: list[RenderableType] = [
        power_cross(net),
        Text(refraction(net), style=STATUS_STYLE[eye.status]),
    ]
    if eye.uncertainty is not None:
        parts.append(Text(f"about 95 %: {eye.uncertainty}", style="dim"))
    return [*parts, Text(f"spherical equivalent {written_power(net.spherical_equivalent_d)}")]


def _passes(eye: EyeState) -> list[RenderableType]:
    """Where the eye is read more than once: each pass, what they make together, and dry beside wet."""
    lines: list[RenderableType] = [Text(text, style="dim") for text in pass_words(eye)]
    for mean, spread in mean_words(eye):
        lines += [Text(mean, style="bold green"), Text(spread, style="dim")]
    results = result_words(eye)
    if results and mean_words(eye):
        lines.append(Text("   ".join(f"{name}: {text}" for name, text in results), style="bold"))
    return lines


def _readings(eye: EyeState, state: ExamState) -> list[RenderableType]:
    """The readings as a table that has room in half of 80 columns, and below it what is to be said of some."""
    table = Table(box=None, padding=(0, 1, 0, 0), pad_edge=False)
    for heading in ("streak", "power\nalong", "seen", "gross", "net"):
        table.add_column(heading, justify="right" if heading in ("gross", "net") else "left", no_wrap=True)
    notes: list[RenderableType] = []
    for each in shown_readings(eye, state.allowance):
        style = "dim strike" if each.superseded else ""
        cells = (each.streak, each.along, each.seen, each.gross, each.net)
        table.add_row(*(Text(cell, style=style) for cell in cells))
        besides = ", ".join(text for text in ("superseded" if each.superseded else "", each.taken) if text)
        if besides:
            notes.append(Text(f"along {each.along}, {each.seen} at {each.gross}: {besides}", style="dim"))
    return [table, *notes]


def _ledger(state: ExamState, rows: int) -> Panel:
    table = Table(box=None, show_header=False, padding=(0, 1))
    lines = [event for event in state.events if isinstance(event, Line)]
    for row in [row for line in lines[-rows:] for row in rows_of(state, line)][-rows:]:
        mark, style = MARKS[row.outcome], _STYLES[row.outcome]
        gone = row.fate in ("corrected", "withdrawn")
        note = row.reply
        became = [
            text for text in (row.fate if row.fate != "live" else "", row.now and f"now {row.now}") if text
        ]
        if became:
            note += f" [{', '.join(became)}]"
        table.add_row(
            Text(mark, style=style),
            Text(inert(row.said) or "…", style=f"strike {style}" if gone else style if row.said else "dim"),
            Text(inert(note), style="dim"),
        )
    return Panel(table, title="entry log")


def _asked(state: ExamState) -> list[Text]:
    """Every open question, the one in hand first, and what waits behind them."""
    asked = [f"asked: {each.question.text}" for each in reversed(state.dialogue.questions)]
    return [Text(inert(text), style="bold yellow") for text in (*asked, waiting_words(state)) if text]


def refraction(lens: SpheroCylinder) -> str:
    """A refraction as it is written down: "+1.25 -1.75 x 090"."""
    return str(lens)


def print_result(console: Console, state: ExamState, notation: Notation | None = None) -> None:
    """The final screen with the whole ledger, and what is still missing."""
    console.print(screen(state, rows=10_000, notation=notation))
    for text in still_missing(state):
        console.print(Text(f"missing: {text}", style="yellow"))
