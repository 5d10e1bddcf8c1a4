"""Four hours of dictation at accelerated pace: nothing lost or doubled, memory flat, no growing queue.

The demo over and over, an exam each, as patient after patient. The recogniser is a script (what it would say to each
sound is known), and the speech detector's answers, worked out once by the real one, are played back; all else is real.
"""

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.corpora.demo_scenario import TRUTH, script
from tests.session.test_session import hearing
from voicelog.demo import demo_audio
from voicelog.exam.events import LeftOut, Line
from voicelog.exam.events import Source as Origin
from voicelog.hearing.endpointing import Endpointer, EndpointingSettings, utterances
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.silero import SileroDetector
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block, FileSource
from voicelog.hearing.utterance import Utterance
from voicelog.live.listening import Listening
from voicelog.session import Session

HOURS = 4.0
TIMES_REAL = 80.0
STATM = Path("/proc/self/statm")


class Replayed:
    """Remembers what the real detector says in the first round and says it again in the others."""

    def __init__(self, frames: int) -> None:
        self._real, self._frames = SileroDetector(), frames
        self._known: list[float] = []
        self._at = 0

    def probability(self, frame: Samples) -> float:
        if len(self._known) < self._frames:
            self._known.append(self._real.probability(frame))
            return self._known[-1]
        self._at += 1
        return self._known[(self._at - 1) % self._frames]

    def reset(self) -> None:
        """The stream has no gaps."""


class Rounds:
    """The demo's sound again and again, on one counter."""

    def __init__(self, blocks: list[Block], count: int) -> None:
        self._blocks, self._count = blocks, count

    def blocks(self) -> Iterator[Block]:
        begun_s, size = time.monotonic(), self._blocks[-1].end_sample
        for turn in range(self._count):
            for each in self._blocks:
                place = turn * size + each.start_sample
                wait_s = begun_s + place / SAMPLE_RATE_HZ / TIMES_REAL - time.monotonic()
                if wait_s > 0:
                    time.sleep(wait_s)
                yield Block(each.samples, place, time.monotonic())

    def close(self) -> None:
        """It ends by itself."""


class Practice:
    """Patient after patient: an exam each, ended by "stop listening"."""

    def __init__(self, texts: dict[bytes, str]) -> None:
        self._texts = texts
        self.session = Session()
        self.exams: list[list[str]] = []
        self.memory: list[int] = []

    def recognise(self, samples: Samples) -> Hearing:
        return hearing(self._texts.get(samples.tobytes(), "somebody goes on speaking"))

    def take(self, heard: Hearing, utterance: Utterance) -> Line:
        said = self.session.take_heard(heard, utterance)
        if said.text == "stop listening":
            eyes = self.session.state.eyes.values()
            self.exams.append(
                [str(eye.solution.net) if eye.status == "solved" else eye.status for eye in eyes]
            )
            self.memory.append(int(STATM.read_text("ascii").split()[1]))
            self.session = Session()
        return said

    def take_line(self, line: str, source: Origin = "typed") -> Line:
        return self.session.type_line(line, source)

    def missed(self, utterance: Utterance, why: LeftOut) -> Line:
        return self.session.take_missed(utterance, why)

    def lost(self, utterance: Utterance | None, source: Origin) -> Line:
        return self.session.take_lost(utterance, source)

    def refused(self, words: str) -> Line:
        return self.session.note_refusal(words)


@pytest.mark.sweep
@pytest.mark.skipif(not STATM.exists(), reason="memory is read from /proc, which only Linux has")
def test_four_hours_in_one_run(capsys: pytest.CaptureFixture[str]) -> None:
    blocks = list(FileSource(demo_audio()).blocks())
    lines = [line.text for line in script()]
    heard = list(utterances(blocks))
    assert len(heard) == len(lines)
    turns = round(HOURS * 3600 * SAMPLE_RATE_HZ / blocks[-1].end_sample)
    practice = Practice({one.samples.tobytes(): text for one, text in zip(heard, lines, strict=True)})
    detector = Replayed(len(blocks))
    listening = Listening(
        Rounds(blocks, turns),
        practice,
        endpointer=Endpointer(EndpointingSettings(draft_silence_s=0.25), detector),
    )
    listening.start()
    assert listening.wait(1200)

    truth = [f"{one.sphere_d:+.2f} {one.cylinder_d:+.2f} x {one.axis_deg:03d}" for one in TRUTH.values()]
    assert practice.exams == [truth] * turns
    assert listening.counts.utterances == len(lines) * turns
    settled = sum(practice.memory[10:20]) / 10
    last = sum(practice.memory[-10:]) / 10
    with capsys.disabled():
        print(f"\n{turns} exams, {HOURS:g} h; memory {100 * (last / settled - 1):+.2f} %; {listening.counts}")
    assert abs(last / settled - 1) < 0.05
    assert listening.counts.most_waiting <= 4
