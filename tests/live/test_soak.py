"""Hours of noisy speech of real people through the whole live exam, readings without their signs among it: no exception.

SOAK_RECORDINGS and SOAK_NOISE name folders of recordings (FLAC at 16 kHz), with a colon between; SOAK_HOURS is three.
What people say there is words, numbers and sentences, some of which are answers and entries: what is entered is of no
account here, that nothing breaks is. Exams of ten minutes each, with a record.
"""

import os
import shutil
from collections import Counter
from collections.abc import Iterator
from itertools import cycle
from pathlib import Path
from random import Random
from time import monotonic, sleep

import numpy as np
import pytest
from rich.console import Console

from tests.corpora.rooms import Noise, add_noise
from tests.corpora.synthesise import read_flac, synthesise
from tests.corpora.voices import VOICES
from voicelog.hearing.engines.protocol import Engine, Samples
from voicelog.hearing.sources import BLOCK_SAMPLES, SAMPLE_RATE_HZ, Block
from voicelog.live.exam import LiveExam
from voicelog.live.options import LiveOptions
from voicelog.record.journal import Journal
from voicelog.session import Session
from voicelog.settings import Settings

HOURS = float(os.environ.get("SOAK_HOURS", "3"))
RECORDINGS = [Path(each) for each in os.environ.get("SOAK_RECORDINGS", "").split(":") if each]
NOISE = [Path(each) for each in os.environ.get("SOAK_NOISE", "").split(":") if each]
EXAM_S = 600.0
UNSIGNED_EVERY = 4
SNR_DB = (-3.0, 15.0)
UNSIGNED = (
    "vertical neutral at two and a quarter",
    "streak ninety neutral one point seven five",
    "horizontal three and a half",
    "sphere two fifty",
    "cylinder one and a quarter axis thirty five",
    "make that one fifty",
    "no two and three quarters",
    "another half",
    "working lens one fifty in",
    "add two and a quarter",
)
BEGINNING = ("working distance sixty seven", "right eye")


def speech(random: Random) -> Iterator[Samples]:
    """Recordings of people in an order by lot, and every fourth time a reading whose sign is left out; all in noise."""
    people = [path for folder in RECORDINGS for path in sorted(folder.rglob("*.flac"))]
    noises = [Noise(path) for folder in NOISE for path in sorted(folder.rglob("*.flac"))]
    voices = cycle([voice for voice in VOICES if voice.engine == "espeak"])
    unsigned = [synthesise(text, next(voices)) for text in UNSIGNED for _ in range(3)]
    number = 0
    while True:
        random.shuffle(people)
        for path in people:
            number += 1
            said = random.choice(unsigned) if number % UNSIGNED_EVERY == 0 else read_flac(path)
            said = np.concatenate(
                [said, np.zeros(round(random.uniform(0.2, 1.5) * SAMPLE_RATE_HZ), np.float32)]
            )
            yield add_noise(said, random.choice(noises), random.uniform(*SNR_DB), str(number))


class Room:
    """Ten minutes of what people say, as fast as the exam can take it."""

    def __init__(self, said: Iterator[Samples], session: Session) -> None:
        self.exam: LiveExam | None = None
        self.heard_s = 0.0
        self._said, self._session = said, session

    def blocks(self) -> Iterator[Block]:
        assert self.exam is not None
        for line in BEGINNING:
            self.exam.type_line(line, "typed")
        place = 0
        while place < EXAM_S * SAMPLE_RATE_HZ:
            whole = next(self._said)
            for start in range(0, whole.size, BLOCK_SAMPLES):
                part = whole[start : start + BLOCK_SAMPLES]
                yield Block(part, place, monotonic())
                place += part.size
            while not self.exam.is_settled:
                sleep(0.002)
            if not self._session.state.listening:  # somebody said "stop"
                self.exam.type_line("resume", "typed")
        self.heard_s = place / SAMPLE_RATE_HZ

    def close(self) -> None:
        """It ends by itself."""


@pytest.mark.sweep
@pytest.mark.skipif(not (RECORDINGS and NOISE), reason="SOAK_RECORDINGS and SOAK_NOISE name no recordings")
@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="needs espeak-ng")
def test_hours_of_noisy_speech_break_nothing(
    engine: Engine, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    said, heard_s = speech(Random(15)), 0.0
    outcomes, faults, problems = Counter[str](), 0, list[str]()
    while heard_s < HOURS * 3600:
        with Journal.open(tmp_path / "data") as journal, open(os.devnull, "w", encoding="utf-8") as nowhere:
            session = Session(Settings(), engine=engine, store=journal.begin())
            room = Room(said, session)
            console = Console(file=nowhere, force_terminal=True)
            options = LiveOptions(source=tmp_path / "none", pace="fast")
            room.exam = LiveExam(session, engine, options, console, source=room)
            ended = room.exam.run()
        heard_s += room.heard_s
        faults += ended.counts.faults
        problems += [note for note in ended.notes if "fault" in note]
        outcomes.update(getattr(event, "outcome", "none") for event in ended.state.events)
        with capsys.disabled():
            print(f"{heard_s / 3600:.2f} h: {dict(outcomes)}, {faults} faults", flush=True)

    assert (faults, problems) == (0, [])
    assert outcomes["asked"] > 100 * HOURS, "too little was asked about for signs to have been left out"
    assert outcomes["accepted"] > 10 * HOURS
