"""The screen of a live exam, and when each entry appeared on it."""

import threading
import time
from collections import deque
from collections.abc import Callable

from rich.console import Console
from rich.live import Live
from rich.text import Text

from voicelog.exam.acuity_lines import Notation
from voicelog.exam.events import Event
from voicelog.exam.state import ExamState
from voicelog.record.inert import inert
from voicelog.record.storing import log_fault
from voicelog.screen.small import fitting
from voicelog.screen.status import Status

_REDRAW_S = 0.2


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
        live.update(fitting(live.console, state, self._status(), self._notation), refresh=True)
        now_s = time.monotonic()
        for event in state.events[len(shown) :]:
            shown[event.number] = now_s
