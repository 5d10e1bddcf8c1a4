"""A power that was worked out is written the same wherever it is shown: live page, review, terminal, printed page."""

import io
import re

import pytest
from rich.console import Console

from tests.record.test_report import pytestmark as needs_poppler
from tests.record.test_report import words
from voicelog.page.plots import meridian_plot
from voicelog.page.view import live_view
from voicelog.record.events import RecordEvent
from voicelog.record.exams import fold
from voicelog.record.export.report import report
from voicelog.screen.terminal import screen
from voicelog.session import Session
from voicelog.settings import Settings

LINES = (
    "working distance sixty seven",
    "right eye",
    "streak ninety neutral at minus one and a quarter",
    "streak one eighty neutral at minus one and an eighth",
)


@needs_poppler
@pytest.mark.parametrize(
    ("steps", "nets"),
    [("quarters", ("-2.75", "-2.50")), ("eighths", ("-2.75", "-2.62"))],  # -2.7425 and -2.6175
)
def test_net_powers_are_the_same_everywhere(steps: str, nets: tuple[str, str]) -> None:
    session = Session(Settings.model_validate({"power_steps": steps}))
    for line in LINES:
        session.type_line(line)
    eye = session.state.eyes["right"]
    events: tuple[RecordEvent, ...] = tuple(session.state.events)

    view = live_view(session.state).eyes[0]
    plot = meridian_plot(eye, "right")
    console = Console(file=io.StringIO(), width=140)
    console.print(screen(session.state))
    printed = words(report("20260101-aaaaaaaa", fold(events), "0" * 64))

    assert tuple(each.net for each in view.meridians) == nets
    assert sorted(arm.power for arm in view.drawing.arms) == sorted(nets)
    assert plot is not None
    assert tuple(re.findall(r"net ([+-]\d\.\d\d)", plot.says)) == nets
    for net in nets:
        assert net in console.file.getvalue()  # type: ignore[attr-defined]
        assert net in printed
    assert "-2.74" not in printed


@needs_poppler
def test_gross_powers_between_the_meridians_of_a_cylinder_are_rounded_as_net_ones_are() -> None:
    """-3.00 axis 090 along 017: -2.74 is no lens, and beside a net power of -4.25 it is no exact one either."""
    session = Session(Settings(working_distance_cm=67))
    for line in (
        *("right eye", "cylinder minus three axis ninety", "streak one oh seven neutral", "yes"),
        *("cylinder out", "streak ninety neutral at minus one and an eighth"),
    ):
        session.type_line(line)
    eye = session.state.eyes["right"]
    events: tuple[RecordEvent, ...] = tuple(session.state.events)
    assert eye.readings[0].gross_d == pytest.approx(-2.7436, abs=1e-3)

    view = live_view(session.state).eyes[0]
    plot = meridian_plot(eye, "right")
    console = Console(file=io.StringIO(), width=140)
    console.print(screen(session.state))
    printed = words(report("20260101-aaaaaaaa", fold(events), "0" * 64))

    # What the trial lenses are stays as it is, eighths too.
    assert [(each.gross, each.net) for each in view.meridians] == [("-2.75", "-4.25"), ("-1.12", "-2.50")]
    assert plot is not None
    assert re.findall(r"([+-]\d\.\d\d) gross", plot.says.replace("\N{MINUS SIGN}", "-")) == ["-2.75", "-1.12"]
    for told in (console.file.getvalue(), printed):  # type: ignore[attr-defined]
        assert "-2.74" not in told
        assert "-2.75" in told
        assert "-1.12" in told
