"""Stand-ins for the loop's parts: a source, an end-pointer and a recogniser that do what a test says."""

import threading
import time
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime

import numpy as np

from voicelog.exam.events import LeftOut, Line
from voicelog.exam.events import Source as Origin
from voicelog.hearing.endpointing import Endpointer
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.sources import Block
from voicelog.hearing.utterance import Utterance


def block(index: int, size: int = 512, *, after_gap: bool = False) -> Block:
    """The block at a place, silent."""
    return Block(np.zeros(size, np.float32), 512 * index, time.monotonic(), after_gap)


def utterance(index: int, start: int, end: int) -> Utterance:
    """An utterance without padding whose samples are its index."""
    samples = np.full(end - start, index, np.float32)
    return Utterance(
        index,
        samples,
        start,
        end,
        0,
        0,
        "pause",
        "pause",
        ((start, end),),
        0.0,
        -20.0,
        -20.0,
        time.monotonic(),
    )


class ScriptedSource:
    """Gives the blocks that it was made with."""

    def __init__(self, blocks: Iterable[Block]) -> None:
        self._blocks = blocks
        self.given = 0
        self.ended = threading.Event()
        self.closed = threading.Event()

    def blocks(self) -> Iterator[Block]:
        for each in self._blocks:
            if self.closed.is_set():
                return
            self.given += 1
            yield each
        self.ended.set()

    def close(self) -> None:
        self.closed.set()


class ScriptedEndpointer(Endpointer):
    """Says after each block what the script says: what it finished, and the draft it offers."""

    def __init__(self, finishes: dict[int, Utterance], drafts: dict[int, Utterance] | None = None) -> None:
        super().__init__()
        self._finishes, self._drafts = finishes, drafts or {}
        self._at = -1

    def feed(self, block: Block) -> list[Utterance]:
        self._at += 1
        return [self._finishes[self._at]] if self._at in self._finishes else []

    def draft(self) -> Utterance | None:
        return self._drafts.get(self._at)

    def flush(self) -> list[Utterance]:
        return []


class Recorder:
    """A recogniser and exam that keep what they were given."""

    def __init__(self, before_recognising: Callable[[], object] = lambda: None) -> None:
        self.recognised: list[Samples] = []
        self.taken: list[tuple[Hearing, Utterance]] = []
        self.order: list[str] = []
        self.threads: set[str] = set()
        self._before = before_recognising

    def recognise(self, samples: Samples) -> Hearing:
        self._before()
        self.recognised.append(samples)
        self.threads.add(threading.current_thread().name)
        return Hearing("script", (), f"other talk {len(self.recognised)}", -1.0, 0.0)

    def take(self, heard: Hearing, one: Utterance) -> Line:
        self.taken.append((heard, one))
        self.threads.add(threading.current_thread().name)
        return self._said(f"utterance {one.index}")

    def take_line(self, line: str, source: Origin = "typed") -> Line:
        self.threads.add(threading.current_thread().name)
        return self._said(line)

    def missed(self, utterance: Utterance, why: LeftOut) -> Line:
        return self._said(f"missed {utterance.index}: {why}")

    def lost(self, utterance: Utterance | None, source: Origin) -> Line:
        return self._said("lost")

    def refused(self, words: str) -> Line:
        return self._said(words)

    def _said(self, text: str) -> Line:
        self.order.append(text)
        return Line(
            number=len(self.order), at=datetime.now(UTC), source="voice", text=text, outcome="ignored"
        )
