"""A live exam in this terminal: drawn where there is one, with something beside it while it runs."""

import os
import sys
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext

from rich.console import Console

from voicelog.hearing.engines.protocol import Engine
from voicelog.live.exam import Ended, LiveExam, LiveOptions
from voicelog.live.round import Patients
from voicelog.session import Session

Beside = Callable[[LiveExam, Session], AbstractContextManager[object]]
"""Entered while an exam runs: a page, for instance."""


def run_exam(
    session: Session,
    engine: Engine,
    options: LiveOptions,
    *,
    on_screen: bool = True,
    beside: Beside | None = None,
    patients: Patients | None = None,
) -> Ended:
    """Run a live exam, and those of further `patients`, until it is ended.

    With `on_screen` it is drawn where standard output is a terminal.

    Raises MissingPartError without PortAudio, SpeakingError for a volume outside 0 to 1, AudioError for a recording
    that cannot be used, VoicelogError for push-to-talk without a terminal.
    """
    with open(os.devnull, "w", encoding="utf-8") as nowhere:
        drawn = on_screen and sys.stdout.isatty()
        console = Console() if drawn else Console(file=nowhere, force_terminal=True, width=100)
        running = LiveExam(session, engine, options, console, patients=patients)
        with nullcontext() if beside is None else beside(running, session):
            return running.run()
