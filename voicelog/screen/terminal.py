"""The exam in a terminal: both eyes, the ledger, and what was asked or left out."""

from collections.abc import Sequence

from rich.console import Console, Group, RenderableType
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from voicelog.exam import wording
from voicelog.exam.acuity import Notation
from voicelog.exam.events import Said
from voicelog.exam.finding_list import Labelled, labelled_findings
from voicelog.exam.passes import apart
from voicelog.exam.protocol import still_missing
from voicelog.exam.remarks import remarks
from voicelog.exam.state import EYES, ExamState, EyeName, EyeState
from voicelog.optics import SpheroCylinder, meridian_to_streak_deg, round_power_d, written_power
from voicelog.screen.cross import power_cross

CAUTION = (
    "An objective finding: a starting point for refinement by a licensed person, not a prescription. "
    "Local rules and licensed practice come first."
)
_MARKS = {"accepted": ("✓", "green"), "asked": ("?", "yellow"), "ignored": ("·", "dim")}
_STATUS_STYLE = {"solved": "bold green", "conflict": "bold red", "incomplete": "yellow", "empty": "dim"}


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
        Text(CAUTION, style="dim"),
    ]
    return Group(*parts)


def _drops_cautions(state: ExamState) -> list[str]:
    """What usual practice says of the drops that were given, each once."""
    agents = [each.agent for each in state.findings.drops]
    return list(dict.fromkeys(each.advice for each in remarks("drops", {"agent": agents})))


def _further(found: Sequence[Labelled], cautions: Sequence[str]) -> Panel | None:
    """What was found beside the readings: a line for each eye, one for both; nothing where there is nothing."""
    table = Table(box=None, show_header=False, padding=(0, 1))
    for name in ("right", "left", "both", None):
        of_eye = [f"{each.label} {each.text}" for each in found if each.eye == name]
        if of_eye:
            title = "" if name is None else "both eyes" if name == "both" else f"{name} eye"
            table.add_row(Text(title, style="bold"), Text("   ".join(of_eye)))
    for caution in cautions:
        table.add_row(Text("drops", style="dim"), Text(caution, style="dim"))
    return Panel(table, title="further findings") if found else None


def _head(state: ExamState) -> RenderableType:
    distance = f"{state.distance_cm:g} cm" if state.distance_cm else "not said"
    text = (
        f"a bare direction names the {state.naming}   working distance {distance}   "
        f"working lens {'in' if state.lens_in else 'out'}   {'concave' if state.concave_mirror else 'plane'} mirror"
    )
    return Text(text, style="bold")


def _eye_panel(name: EyeName, state: ExamState) -> Panel:
    eye = state.eyes[name]
    parts: list[RenderableType] = []
    if eye.readings:
        parts.append(_readings(eye))
    if eye.solution.net is not None and eye.status in ("solved", "conflict"):
        parts.append(power_cross(eye.solution.net))
        parts.append(Text(refraction(eye.solution.net), style=_STATUS_STYLE[eye.status]))
        if eye.uncertainty is not None:
            parts.append(Text(f"about 95 %: {eye.uncertainty}", style="dim"))
        parts.append(Text(f"spherical equivalent {written_power(eye.solution.net.spherical_equivalent_d)}"))
    parts += _passes(eye)
    parts += [Text(f"! {problem.text}", style="yellow") for problem in eye.problems]
    title = f"{name} eye" + ("  ◀ now" if state.eye == name else "")
    return Panel(
        Group(*parts) if parts else Text("nothing read yet", style="dim"), title=title, subtitle=eye.status
    )


def _passes(eye: EyeState) -> list[RenderableType]:
    """Where the eye is read more than once: which pass this is, the passes before it, and what they make together."""
    if eye.pass_number == 1 and not eye.pass_opened:
        return []
    lines: list[RenderableType] = [
        Text(f"pass {number}: {each.solution.net or each.status}", style="dim")
        for number, each in enumerate(eye.passes, start=1)
    ]
    if eye.pass_opened:
        lines.append(Text(f"pass {eye.pass_number + 1}: no reading yet", style="dim"))
    if eye.mean is not None:
        mean = f"mean of {eye.mean.count} passes: {refraction(eye.mean.net)}"
        lines += [Text(mean, style="bold green"), Text(apart(eye.mean), style="dim")]
    return lines


def _readings(eye: EyeState) -> Table:
    table = Table(box=None, padding=(0, 1))
    for heading in ("streak", "power along", "seen", "gross", "net"):
        table.add_column(heading, justify="right" if heading in ("gross", "net") else "left")
    for each in eye.readings:
        net = (
            "" if each.net_d is None or each.motion != "neutral" else written_power(round_power_d(each.net_d))
        )
        table.add_row(
            wording.angle(int(meridian_to_streak_deg(each.meridian_deg))),
            wording.angle(each.meridian_deg),
            each.motion,
            written_power(each.gross_d),
            net,
        )
    return table


def _ledger(state: ExamState, rows: int) -> Panel:
    table = Table(box=None, show_header=False, padding=(0, 1))
    said = [event for event in state.events if isinstance(event, Said)]
    for event in said[-rows:]:
        mark, style = _MARKS[event.outcome]
        state_now = next((line.state for line in state.ledger.lines if line.number == event.number), "live")
        text = Text(event.text, style=style if state_now == "live" else f"strike {style}")
        note = event.reply if event.outcome != "ignored" else "left out"
        table.add_row(Text(mark, style=style), text, Text(note, style="dim"))
    question = f"asked: {state.question.text}" if state.question else None
    return Panel(table, title="ledger", subtitle=question)


def refraction(lens: SpheroCylinder) -> str:
    """A refraction as it is written down: "+1.25 -1.75 x 090"."""
    return str(lens)


def print_result(console: Console, state: ExamState, notation: Notation | None = None) -> None:
    """The final screen with the whole ledger, and what is still missing."""
    console.print(screen(state, rows=10_000, notation=notation))
    for text in still_missing(state):
        console.print(Text(f"missing: {text}", style="yellow"))
