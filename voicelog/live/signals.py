"""Ctrl-C and SIGTERM end the sound of an exam, not the exam: what was heard is still entered."""

import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType


@contextmanager
def ended_by_signals(close: Callable[[], None]) -> Iterator[None]:
    """The first signal calls `close`; a second one ends at once. Outside the main thread nothing is changed."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    asked = False

    def end(number: int, frame: FrameType | None) -> None:
        nonlocal asked
        if asked:
            raise KeyboardInterrupt
        asked = True
        close()

    before = {number: signal.signal(number, end) for number in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
