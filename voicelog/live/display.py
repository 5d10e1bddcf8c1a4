"""The screen of a live exam, and when each entry appeared on it."""

import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass

from rich.console import Console, Group, RenderableType
from rich.live import Live
from rich.text import Text

from voicelog.exam.acuity_lines import Notation
from voicelog.exam.events import Event
from voicelog.exam.state import ExamState
from voicelog.live.exchange_table import HINTS, state_of
from voicelog.record.inert import inert
from voicelog.record.storing import log_fault
from voicelog.screen.terminal import screen
from voicelog.screen.turn import Turn

_REDRAW_S = 0.2
_METER_FLOOR_DBFS, _METER_STEPS = -60.0, 20


@dataclass(frozen=True, slots=True)
class Status:
    """What is said of the sound, beside the exam."""

    level_dbfs: float
    in_speech: bool
    turn: Turn = Turn.LISTENING
    hint: str = ""
    """What may be done now."""
    missed: str = ""
    """How many utterances were not heard, and why."""
    notice: str = ""
    """What went wrong and still does, as "microphone lost"."""
    banner: str = ""
    """What stays as long as the exam does."""
    switch_open: bool | None = None
    """None without push-to-talk."""
    typed: str = ""
    view: str = ""
    """What was asked to be shown: "everything", "far", or nothing."""


class Display:
    """Draws until it is told to end; `shown` has `time.monotonic()` of each event's appearance."""

    def __init__(
        self,
        console: Console,
        state: ExamState,
        status: Callable[[], Status],
        notation: Notation | None = None,
        on_fault: Callable[[Exception], None] = log_fault,
    ) -> None:
        self.shown: dict[int, float] = {}
        self._console, self._status = console, status
        self._state, self._notation, self._on_fault = state, notation, on_fault
        self._wake = threading.Event()
        self._told: deque[str] = deque()

    def __call__(self, event: Event, state: ExamState) -> None:
        """Take a new state; a listener of the session, called from any thread."""
        self._state = state
        self._wake.set()

    def show(self, state: ExamState) -> None:
        """Show another exam from now on."""
        self._state, self.shown = state, {}
        self._wake.set()

    def tell(self, text: str) -> None:
        """Write a line above the screen, where it stays."""
        self._told.append(text)
        self._wake.set()

    def tell_rest(self) -> None:
        """Write what is still to be written, after the screen has ended."""
        while self._told:
            self._console.print(Text(inert(self._told.popleft())))

    def wake(self) -> None:
        """Draw now."""
        self._wake.set()

    def run(self, done: Callable[[], bool]) -> None:
        """Draw, in this thread, until `done`; what it raises is passed on. Faults of drawing are told."""
        # Notes for standard error go there, not to the console.
        live_screen = Live(
            console=self._console,
            auto_refresh=False,
            transient=True,
            redirect_stdout=False,
            redirect_stderr=False,
        )
        with live_screen as live:
            ended = False
            while not ended:
                ended = done()
                self._try_to_draw(live)
                if not ended:
                    self._wake.wait(_REDRAW_S)
                    self._wake.clear()

    def _try_to_draw(self, live: Live) -> None:
        try:
            self._draw(live)
        except Exception as fault:  # the exam goes on unseen, and is heard
            self._on_fault(fault)

    def _draw(self, live: Live) -> None:
        while self._told:
            live.console.print(Text(inert(self._told.popleft())))
        state, shown = self._state, self.shown
        drawn = screen(state, notation=self._notation)
        live.update(Group(drawn, _status_line(state, self._status())), refresh=True)
        now_s = time.monotonic()
        for event in state.events[len(shown) :]:
            shown[event.number] = now_s


def _status_line(state: ExamState, status: Status) -> RenderableType:
    line = Text()
    if status.notice:
        line.append(f"{status.notice}\n", style="bold red")
    where = state_of(state)
    line.append(meter(status.level_dbfs), style="green" if status.in_speech else "dim")
    if status.switch_open is not None:
        line.append("  key: listening" if status.switch_open else "  key: not listening", style="bold")
    line.append(f"  {where.value}", style="bold")
    line.append(f"  ({HINTS[where]})", style="dim")
    if status.typed:
        line.append(f"\n> {status.typed}", style="bold")
    return line


def meter(level_dbfs: float) -> str:
    """A level as a bar from -60 dBFS to full scale, with the figure."""
    share = (level_dbfs - _METER_FLOOR_DBFS) / -_METER_FLOOR_DBFS
    steps = round(min(1.0, max(0.0, share)) * _METER_STEPS)
    return f"{'█' * steps}{'·' * (_METER_STEPS - steps)} {level_dbfs:4.0f} dBFS"
