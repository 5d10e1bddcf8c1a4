"""Run by test_day.py: `voicelog exam` as it runs all day, with a microphone and a recogniser that do what a script says.

    python -m tests.live.day_child SCRIPT FIRST [--continue]

SCRIPT holds what is said, a line each, from number FIRST on: a phrase; "#..." a reference; "!muted", six seconds without
any sound; "!unplugged", the microphone goes in the middle of the next words and comes back; "!killed", nobody speaks until
the process is killed, which was before if it is the one that goes on. The number of each thing that was said is printed
once its line is kept and told. Nothing is read from standard input.
"""

import sys
from collections.abc import Callable, Generator, Iterator
from pathlib import Path

import numpy as np

from tests.live.scripted import ScriptedEndpointer, ScriptedSource
from tests.live.test_faults import sound
from tests.live.test_round import Says
from voicelog.cli import exam as command
from voicelog.cli import main
from voicelog.exam.events import Event, Line
from voicelog.exam.state import ExamState
from voicelog.hearing import portaudio
from voicelog.hearing.microphone import MicrophoneState
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.hearing.utterance import Utterance
from voicelog.live import exam as live
from voicelog.live import listening, running, sounding
from voicelog.session import Session

HALF = SAMPLE_RATE_HZ // 2
MUTED_HALVES = 12
Tells = Callable[[MicrophoneState, str], None]


class Microphone(ScriptedSource):
    """Half a second of a quiet room for each thing that is said; the next is said when nothing waits."""

    def __init__(self, lines: list[str], first: int, *, goes_on: bool) -> None:
        super().__init__(())
        self._lines, self._first, self._goes_on = lines, first, goes_on
        self._room = np.random.default_rng(first).standard_normal(HALF).astype(np.float32) * np.float32(3e-4)
        self.said: dict[int, Utterance] = {}
        self.at = self._blocks_given = 0
        self.tells: Tells = lambda state, text: None
        self.busy: Callable[[], bool] = lambda: False

    def blocks(self) -> Iterator[Block]:
        for index, line in enumerate(self._lines[self._first :], self._first):
            self.at = index
            match line:
                case "!muted":
                    for _ in range(MUTED_HALVES):
                        yield from self._half(np.zeros(HALF, np.float32))
                case "!unplugged":
                    self.tells(MicrophoneState.LOST, "unplugged")
                    yield from self._half(self._room, after_gap=True)
                    self.tells(MicrophoneState.LISTENING, "the same one")
                case "!killed":
                    if not self._goes_on:
                        self.closed.wait()
                case _:
                    self.said[self._blocks_given] = sound(index)
                    yield from self._half(self._room)
                    while self.busy() and not self.closed.wait(0.001):
                        continue

    def _half(self, samples: np.ndarray, *, after_gap: bool = False) -> Generator[Block]:
        place = HALF * self._blocks_given
        self._blocks_given += 1
        yield Block(samples, place, 0.0, after_gap)


class Scripted(ScriptedEndpointer):
    """Finishes what has just been said."""

    def __init__(self, source: Microphone) -> None:
        super().__init__({})
        self._finishes = source.said


class Silent:
    """A loudspeaker that nobody hears."""

    def close(self) -> None:
        """There is nothing to give back."""


def run(script: Path, first: int, options: list[str]) -> int:
    lines = script.read_text(encoding="utf-8").splitlines()
    source = Microphone(lines, first, goes_on="--continue" in options)

    class Loop(listening.Listening):
        def __init__(self, *given: object, **named: object) -> None:
            super().__init__(*given, **named, endpointer=Scripted(source))  # type: ignore[arg-type]
            source.busy = lambda: self.busy

    class Exam(live.LiveExam):
        def _opened(self) -> Microphone:
            source.tells = self._microphone
            return source

        def _attend(self, session: Session) -> None:
            super()._attend(session)
            session.listen(tell)

    def tell(event: Event, state: ExamState) -> None:
        if isinstance(event, Line) and event.source == "voice" and event.heard is not None:
            print(source.at, flush=True)

    parts = (
        (portaudio, "load", lambda: None),
        (sounding, "_play", lambda *_, **__: Silent()),
        (command, "chosen_engine", lambda *_: Says(tuple(lines))),
        (live, "Listening", Loop),
        (running, "LiveExam", Exam),
    )
    for module, name, part in parts:
        setattr(module, name, part)
    return main(["exam", "--headset", "--read-back", "off", "--json", *options])


if __name__ == "__main__":
    sys.exit(run(Path(sys.argv[1]), int(sys.argv[2]), [*sys.argv[3:], "--no-open"]))
