"""Faults and refusals at random moments: no exam ends, and no value goes to an eye that it was not said of.

A patient's eyes differ by ten dioptres, so that a value in the wrong eye shows whatever else becomes of it. The examiner
says the eye, then some readings, and after a fault answers what is asked and says the last thing again.
"""

import random
from collections.abc import Generator, Iterator
from dataclasses import dataclass, field

import numpy as np
import pytest

from tests.live.scripted import ScriptedEndpointer, ScriptedSource, block
from tests.session.test_session import hearing
from voicelog.exam.entries import ReadingEntry
from voicelog.exam.events import Event, Line
from voicelog.exam.state import ExamState, fold
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.sources import Block
from voicelog.hearing.utterance import Utterance
from voicelog.live import entering
from voicelog.live.listening import Listening, Told
from voicelog.live.taking import ExamTaker
from voicelog.record.errors import RecordBusyError
from voicelog.session import Memory, Session

PATIENCE_S = 60.0
FAULTS = (ZeroDivisionError, KeyError, MemoryError, RuntimeError, OSError)
POWERS_D = {"right": ("plus one", "plus one and a quarter"), "left": ("minus nine", "minus nine and a half")}
SIGN = {"right": 1, "left": -1}


@dataclass
class Chance:
    """Throws at random, `left` times in all."""

    random: random.Random
    share: float
    left: int
    thrown: int = 0

    def __call__(self) -> bool:
        if self.left == 0 or self.random.random() >= self.share:
            return False
        self.left -= 1
        self.thrown += 1
        return True


@dataclass
class Engine:
    """Hears what the script says of each utterance, when it does not fail."""

    said: list[str]
    fails: Chance
    name: str = "script"

    def hear(self, samples: Samples, rule: str) -> Hearing:
        if self.fails():
            raise self.fails.random.choice(FAULTS)("engine")
        return hearing(self.said[int(samples[0])]) if samples.size else hearing("nothing")


@dataclass
class Refusing(Memory):
    """A record that is held by another process now and then, for several attempts in a row."""

    refuses: Chance
    events: list[Event] = field(default_factory=list)
    more: int = 0

    def append(self, event: Event, state: ExamState | None = None) -> None:
        if self.more:
            self.more -= 1
            raise RecordBusyError("another process holds the record")
        if event.number and self.refuses():
            self.more = self.refuses.random.randrange(3)
            raise RecordBusyError("another process holds the record")
        super().append(event, state)


@dataclass
class Listener:
    """A listener of the session that fails now and then."""

    fails: Chance
    heard: int = 0

    def __call__(self, event: Event, state: ExamState) -> None:
        self.heard += 1
        if self.fails():
            raise self.fails.random.choice(FAULTS)("listener")


def sound(index: int) -> Utterance:
    start = 32000 * index
    samples = np.full(16000, index, np.float32)
    return Utterance(
        index,
        samples,
        start,
        start + 16000,
        0,
        0,
        "pause",
        "pause",
        ((start, start + 16000),),
        0.0,
        -20.0,
        -20.0,
        0.0,
    )


def examiner(chance: random.Random, eyes: int) -> list[tuple[str, str]]:
    """What is said, with the eye that it is said of: eyes in turn, with one to four readings each, and talk."""
    said = [("working distance sixty seven", "")]
    for turn in range(eyes):
        eye = ("right", "left")[turn % 2]
        said.append((f"{eye} eye", eye))
        for _ in range(chance.randrange(1, 5)):
            place = chance.choice(("vertical", "horizontal"))
            said.append((f"streak {place} neutral at {chance.choice(POWERS_D[eye])}", eye))
        if chance.random() < 0.3:
            said.append(("look at the far letter please", eye))
    return said


class Examiner(ScriptedSource):
    """Speaks, and after each thing waits for what comes of it: what is asked is answered, what is lost said again."""

    def __init__(self, said: list[tuple[str, str]], log: list[str], listening: "list[Listening]") -> None:
        super().__init__(())
        self.said, self.log, self.listening = said, log, listening
        self.session: Session | None = None
        self.waits: dict[int, Utterance] = {}

    def blocks(self) -> Iterator[Block]:
        at = 0
        for text, eye in self.said:
            at = yield from self._say(text, at)
            for _ in range(4):
                state = self._state()
                question = state.question
                if question is None or question.missing != "eye":
                    break
                at = yield from self._say(f"{eye} eye", at)

    def _say(self, text: str, at: int) -> Generator[Block, None, int]:
        self.log.append(text)
        index = len(self.log) - 1
        self.waits[at] = sound(index)
        yield block(at)
        while self.listening[0].busy:
            if self.closed.wait(0.0005):
                break
        return at + 1

    def _state(self) -> ExamState:
        assert self.session is not None
        return self.session.state


class Scripted(ScriptedEndpointer):
    """Finishes what the examiner has just said."""

    def __init__(self, source: Examiner) -> None:
        super().__init__({})
        self._finishes = source.waits


@pytest.fixture(autouse=True)
def _at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(entering, "_TRY_AGAIN_S", 0.001)


@dataclass
class Ran:
    session: Session
    store: Refusing
    log: list[str]
    listening: Listening
    faults: list[BaseException]
    problems: list[str]
    held: list[str]
    listener: Listener
    after_it: Listener


def run(seed: int, *, faults: int, refusals: int, eyes: int) -> Ran:
    """One exam with so many faults in the engine and in a listener, and so many refusals."""
    chance = random.Random(seed)
    said = examiner(chance, eyes)
    log: list[str] = []
    in_engine = Chance(random.Random(seed + 1), 0.4, faults)
    in_listener = Chance(random.Random(seed + 2), 0.5, faults)
    store = Refusing(Chance(random.Random(seed + 3), 0.15, refusals))
    engine = Engine(log, in_engine)
    told: tuple[list[BaseException], list[str], list[str]] = ([], [], [])
    session = Session(store=store, engine=engine, on_fault=told[0].append)
    failing, after_it = Listener(in_listener), Listener(Chance(random.Random(0), 0.0, 0))
    session.listen(failing)
    session.listen(after_it)
    loops: list[Listening] = []
    source = Examiner(said, log, loops)
    source.session = session
    listening = Listening(
        source,
        ExamTaker(session, engine),
        endpointer=Scripted(source),
        told=Told(fault=told[0].append, problem=told[1].append, held=told[2].append),
    )
    loops.append(listening)
    listening.start()
    assert listening.wait(PATIENCE_S)
    return Ran(session, store, log, listening, *told, failing, after_it)


def right_eye_only(state: ExamState) -> Iterator[ReadingEntry]:
    """The readings that count in an eye that they were not said of."""
    for row in state.ledger.live:
        entry = row.entry
        if isinstance(entry, ReadingEntry) and (entry.lenses.sphere_d or 0) * SIGN[entry.eye] <= 0:
            yield entry


@pytest.mark.parametrize("exams", [4, pytest.param(20, marks=pytest.mark.sweep)])
def test_faults_and_refusals_end_no_exam_and_put_no_value_into_a_wrong_eye(exams: int) -> None:
    """In twenty exams five hundred faults and fifty refusals; a fifth of these by default."""
    thrown = refused = lost = readings = 0
    for seed in range(exams):
        ran = run(seed, faults=20, refusals=4, eyes=12)
        lines = [each for each in ran.session.state.events if isinstance(each, Line)]

        assert list(right_eye_only(ran.session.state)) == []
        assert ran.problems == []
        assert fold(ran.store.events).ledger == ran.session.state.ledger
        # Nothing without trace: each thing that was said has its line, whatever failed.
        assert len([each for each in lines if each.left_out != "refused"]) == len(ran.log)
        assert ran.after_it.heard == ran.listener.heard == len(lines)
        assert sum(each.left_out == "refused" for each in lines) >= 1
        assert ran.held[-1] == ""
        thrown += len(ran.faults)
        refused += ran.store.refuses.thrown
        lost += sum(each.left_out == "failed" for each in lines)
        readings += sum(isinstance(row.entry, ReadingEntry) for row in ran.session.state.ledger.live)
    assert thrown >= 25 * exams
    assert refused >= 2.5 * exams
    assert lost >= exams
    assert readings >= 15 * exams
