"""Single keys from the terminal, read in a thread of their own: push-to-talk, foot switches, typed phrases."""

import os
import select
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager

from voicelog.errors import VoicelogError
from voicelog.live.key_names import KeyNames

_POLL_S = 0.1
_END_OF_INPUT = "\x04"
_BACKSPACES = ("\x7f", "\b")


class LineBuffer:
    """Makes lines of single keys; `text` is what was typed of the line in hand."""

    def __init__(self, on_line: Callable[[str], None]) -> None:
        self.text = ""
        self._on_line = on_line

    def __call__(self, key: str) -> None:
        """Take a key."""
        if key in ("\r", "\n"):
            line, self.text = self.text.strip(), ""
            if line:
                self._on_line(line)
        elif key in _BACKSPACES:
            self.text = self.text[:-1]
        elif len(key) == 1 and key.isprintable():
            self.text += key


def is_terminal() -> bool:
    """Whether keys can be read one by one from standard input."""
    if not sys.stdin.isatty():
        return False
    try:
        import termios  # noqa: F401 - only to learn whether this system has it
    except ImportError:
        return False
    return True


@contextmanager
def reading(on_key: Callable[[str], None], on_end: Callable[[], None]) -> Iterator[None]:
    """Call `on_key` with the name of each key of the terminal, `on_end` for Ctrl-D, from a thread of its own.

    Names are those of `KeyNames`. Ctrl-C interrupts as ever. Keys are not echoed. Raises VoicelogError when standard
    input is no such terminal.
    """
    if not is_terminal():
        raise VoicelogError(
            "keys are read from a terminal only: start voicelog in one, and give it no file as input"
        )
    import termios
    import tty

    handle = sys.stdin.fileno()
    before = termios.tcgetattr(handle)
    ended = threading.Event()
    thread = threading.Thread(target=_read, args=(handle, on_key, on_end, ended), name="keys", daemon=True)
    tty.setcbreak(handle)
    thread.start()
    try:
        yield
    finally:
        ended.set()
        thread.join(1.0)
        termios.tcsetattr(handle, termios.TCSADRAIN, before)


def _read(
    handle: int, on_key: Callable[[str], None], on_end: Callable[[], None], ended: threading.Event
) -> None:
    names = KeyNames()
    while not ended.is_set():
        ready, _, _ = select.select([handle], [], [], _POLL_S)
        if not ready:
            for key in names.rest():
                on_key(key)
            continue
        try:
            data = os.read(handle, 64)
        except OSError:  # the terminal has gone
            data = b""
        if not data:
            on_end()
            return
        for key in names(data.decode("utf-8", errors="ignore")):
            if key == _END_OF_INPUT:
                on_end()
            else:
                on_key(key)
