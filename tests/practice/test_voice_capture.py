"""A lesson by voice on real capture: a recording played into a private sound server, ended by Ctrl-C."""

import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.hearing.pulse import PrivatePulse, missing_part

ROOT = Path(__file__).parents[2]
TWO_PHRASES = ROOT / "tests" / "hearing" / "audio" / "two_phrases.flac"
PATIENCE_S = 60.0
# The eye's neutral lens there is +3.00 by hand: +1.00 is needed, and 2.00 D for half a metre.
LESSON = ("practice", "--voice", "--refraction", "+1.00", "--distance", "50")


class Child:
    """A lesson in a process of its own, and what it has printed."""

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self.process = process
        self.told: list[str] = []
        self._lines: queue.Queue[str] = queue.Queue()
        self.reader = threading.Thread(target=self._collect, daemon=True)
        self.reader.start()

    def wait_for(self, beginning: str) -> None:
        """Until it prints a line that begins so."""
        while not self.told or not self.told[-1].startswith(beginning):
            self.told.append(self._lines.get(timeout=PATIENCE_S))

    def _collect(self) -> None:
        for line in self.process.stdout or ():
            self._lines.put(line)


@contextmanager
def lesson(server: PrivatePulse) -> Iterator[Child]:
    """The lesson, listening to the server's microphone."""
    with subprocess.Popen(
        [sys.executable, "-u", "-m", "voicelog", *LESSON],
        cwd=ROOT,
        env=server.environ,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        text=True,
    ) as process:
        child = Child(process)
        try:
            yield child
        finally:
            process.kill()
            child.reader.join(PATIENCE_S)


def test_what_is_spoken_into_the_microphone_is_answered_by_the_eye(tmp_path: Path) -> None:
    missing = missing_part()
    if missing is not None:
        pytest.skip(missing)
    server = PrivatePulse(tmp_path)
    try:
        with lesson(server) as child:
            child.wait_for("microphone:")
            server.play(TWO_PHRASES)
            child.wait_for("> streak vertical neutral")
            child.wait_for("streak 090, +3.00 DS: no motion")
            child.process.send_signal(signal.SIGINT)
            assert child.process.wait(PATIENCE_S) == 0
            child.wait_for("The first mistake: the log has no result")
    finally:
        server.close()
    assert "> right eye\n" in child.told
    assert "log: entered: right eye: streak vertical (power along 180) neutral, sphere +3.00\n" in child.told
