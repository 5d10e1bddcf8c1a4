"""Half an hour of talk through the whole live exam, ear and all: nothing of it lies in the data folder afterwards.

What is said is synthetic (espeak-ng, and the recordings of natural voices in tests/audio), every other stretch of it while the log is
paused. Both what was said and what the listeners took it for are looked for. Entries are between, so that there is something to
find; what the exam asked about or entered is for the log, and counted.

Recordings of people take the place of it where TALK_RECORDINGS names folders, with a colon between: each has a `manifest.tsv` of
path and transcript, which may be empty. TALK_PART="1/2" takes every other of them from the first on, so that two processes share them.
"""

import csv
import os
import shutil
import tempfile
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from itertools import cycle
from pathlib import Path
from random import Random
from time import monotonic, sleep
from typing import Any

import numpy as np
import pytest
import soundfile
from rich.console import Console

from tests.corpora.synthesise import synthesise
from tests.corpora.talk import conversation
from tests.corpora.voices import VOICES
from tests.hearing.packed import clips
from tests.live.searching import everything, has_sound, pieces_of, text_in, words_found
from tests.session.test_session import hearing
from voicelog.exam.events import Line
from voicelog.hearing.engines.protocol import Engine, Hearing, Samples
from voicelog.hearing.sources import BLOCK_SAMPLES, SAMPLE_RATE_HZ, Block
from voicelog.hearing.utterance import Utterance
from voicelog.live.exam import LiveExam
from voicelog.live.options import LiveOptions
from voicelog.record.clips import flac
from voicelog.record.journal import Journal
from voicelog.session import Session
from voicelog.settings import Settings

MINUTES = float(os.environ.get("TALK_MINUTES", "30"))
RECORDINGS = [Path(each) for each in os.environ.get("TALK_RECORDINGS", "").split(":") if each]
PART, PARTS = map(int, os.environ.get("TALK_PART", "1/1").split("/"))
STRETCH_S = 90.0  # of talk, then the log is paused, or listens again
GAP = np.zeros(round(0.9 * SAMPLE_RATE_HZ), np.float32)
ROOM_RMS = np.float32(3e-4)
ESPEAK = [voice for voice in VOICES if voice.engine == "espeak"]
BEGINNING = ("working distance sixty seven", "right eye")
FORMATS = (b"OggS\0", b"PK\x03\x04", b"\x1f\x8b\x08", b"RIFF", b"\x28\xb5\x2f\xfd")
"""Beginnings of Ogg, ZIP, gzip, WAV and Zstandard: nothing of the kind is ever in the data folder."""


def talk(minutes: float) -> Iterator[tuple[str, Samples]]:
    """Sentences and their sound, every third of a natural voice."""
    natural = cycle([(text, samples) for _, text, samples in clips("talk")])
    voices, turns, length_s = cycle(ESPEAK), conversation(Random(16)), 0.0
    with ThreadPoolExecutor(2) as pool:
        while length_s < minutes * 60:
            said = [(next(turns).text, next(voices)) for _ in range(4)]
            made = list(
                zip((text for text, _ in said), pool.map(lambda each: synthesise(*each), said), strict=True)
            )
            for text, samples in (*made, next(natural), next(natural)):
                length_s += (samples.size + GAP.size) / SAMPLE_RATE_HZ
                yield text, samples


def recorded_talk(minutes: float) -> Iterator[tuple[str, Samples]]:
    """Recordings of people, of all folders by turns as they have them, and their transcripts."""
    rows = []
    for folder in RECORDINGS:
        with (folder / "manifest.tsv").open(encoding="utf-8", newline="") as file:
            here = list(csv.DictReader(file, delimiter="\t"))
        rows += [(at / len(here), folder / row["path"], row["transcript"]) for at, row in enumerate(here)]
    length_s = 0.0
    for _, path, text in sorted(rows)[PART - 1 :: PARTS]:
        if length_s >= minutes * 60:
            return
        samples, rate_hz = soundfile.read(path, dtype="float32")
        assert rate_hz == SAMPLE_RATE_HZ, path
        length_s += (samples.size + GAP.size) / SAMPLE_RATE_HZ
        yield text, samples


class Room:
    """Talk, an entry behind each stretch in which the log listens, and what is typed: each once nothing waits."""

    def __init__(self, minutes: float, folder: Path) -> None:
        self.exam: LiveExam | None = None
        self.said: list[str] = []
        self.talk_s, self._at = 0.0, 0
        self.left: set[bytes] = set()
        """The files of the data folder as they were in the middle of pauses."""
        self._minutes, self._folder, self._random = minutes, folder, np.random.default_rng(16)

    def blocks(self) -> Iterator[Block]:
        entries = cycle([samples for who, _, samples in clips("readings") if who.startswith("kokoro")])
        self._type(*BEGINNING)
        listens, stretch_s = True, 0.0
        for text, samples in (recorded_talk if RECORDINGS else talk)(self._minutes):
            self.said.append(text)
            yield from self._sound(samples)
            self.talk_s += (samples.size + GAP.size) / SAMPLE_RATE_HZ
            stretch_s += (samples.size + GAP.size) / SAMPLE_RATE_HZ
            if stretch_s < STRETCH_S:
                continue
            if listens:
                for _ in range(2):
                    yield from self._sound(next(entries))
            else:
                self.left |= {path.read_bytes() for path in self._folder.rglob("*") if path.is_file()}
            self._type("pause" if listens else "resume")
            listens, stretch_s = not listens, 0.0

    def _sound(self, samples: Samples) -> Iterator[Block]:
        whole = np.concatenate([samples, GAP])
        # No room is without a sound, and silence would be found everywhere.
        whole += self._random.standard_normal(whole.size).astype(np.float32) * ROOM_RMS
        for start in range(0, whole.size, BLOCK_SAMPLES):
            part = whole[start : start + BLOCK_SAMPLES]
            yield Block(part, self._at, monotonic())
            self._at += part.size
        self._wait()

    def _type(self, *lines: str) -> None:
        for line in lines:
            assert self.exam is not None
            self.exam.type_line(line, "typed")
            self._wait()

    def _wait(self) -> None:
        assert self.exam is not None
        while not self.exam.is_settled:
            sleep(0.002)

    def close(self) -> None:
        """It ends by itself."""


class Watched(Session):
    """Remembers what was heard and what became of it."""

    def __init__(self, *given: Any, **named: Any) -> None:
        super().__init__(*given, **named)
        self.taken: list[tuple[Line, Hearing, Utterance | None]] = []

    def take_heard(self, hearing: Hearing, utterance: Utterance | None = None) -> Line:
        line = super().take_heard(hearing, utterance)
        self.taken.append((line, hearing, utterance))
        return line


def heard_as(hearing: Hearing) -> list[str]:
    """All that an utterance was taken for."""
    return [hearing.free_text, *(each.text for each in hearing.hypotheses)]


def words_of_the_program(folder: Path) -> str:
    """What a record holds in which nothing was said but made-up words and the entries' own."""
    with Journal.open(folder) as journal:
        session = Session(Settings(), store=journal.begin())
        for line in BEGINNING:
            session.type_line(line)
        session.take_heard(hearing("wumpus wumpus"))
        session.type_line("pause")
        session.take_heard(hearing("wumpus wumpus"))
        session.type_line("resume")
    return text_in(everything(folder))


def test_the_search_finds_what_is_there() -> None:
    samples = (np.random.default_rng(1).standard_normal(8000) * 0.1).astype(np.float32)
    for content in (flac(samples), samples.tobytes(), (samples * 32767).astype("<i2").tobytes()):
        assert has_sound(b"\0" * 99 + content, samples)
        assert not has_sound(content, samples[::-1])
    escaped = "".join(f"\\u{ord(each):04x}" for each in "Marmalade")
    for content in (
        *("Marmalade".encode(code) for code in ("utf-8", "utf-16-le", "utf-32-le")),
        escaped.encode(),
    ):
        assert words_found(text_in(b"\xff\1" + content + b"\xff"), ["the marmalade"], "") == {"marmalade"}
        assert words_found(text_in(content), ["the marmalade"], "a marmalade") == set()
    assert pieces_of("We saw two of them") == {"saw two", "of them"}


@pytest.mark.sweep
@pytest.mark.skipif(not RECORDINGS and shutil.which("espeak-ng") is None, reason="needs espeak-ng")
def test_talk_heard_by_the_whole_program_leaves_no_word_and_no_sound(
    engine: Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder, elsewhere = tmp_path / "data", tmp_path / "elsewhere"
    elsewhere.mkdir()
    room = Room(MINUTES, folder)
    with Journal.open(folder) as journal, open(os.devnull, "w", encoding="utf-8") as nowhere:
        session = Watched(Settings(), engine=engine, store=journal.begin())
        options = LiveOptions(source=tmp_path / "none", pace="fast")
        console = Console(file=nowhere, force_terminal=True)
        room.exam = LiveExam(session, engine, options, console, source=room)
        with monkeypatch.context() as patched:
            patched.setattr(tempfile, "tempdir", str(elsewhere))
            ended = room.exam.run()
        content = b"\0".join([*room.left, everything(folder)])  # with the write-ahead file
        events = list(session.state.events)
    content += everything(folder) + everything(elsewhere)
    text = text_in(content)

    left_out = [each for each in session.taken if each[0].outcome == "ignored"]
    for_the_log = [each for each in session.taken if each[0].outcome != "ignored"]
    # What the log asked about or entered may stand in it, and what the program itself writes.
    allowed = words_of_the_program(tmp_path / "other") + "\n".join(
        line.model_dump_json().lower() for line, _, _ in for_the_log
    )
    said = words_found(text, room.said, allowed)
    taken_for = words_found(text, [words for _, heard, _ in left_out for words in heard_as(heard)], allowed)
    sounds = [each.index for _, _, each in left_out if each is not None and has_sound(content, each.samples)]
    kept = {path.stem for path in folder.rglob("*.flac")}
    named = {line.heard.clip for line, _, _ in for_the_log if line.heard is not None and line.heard.clip}
    why = Counter(each.left_out for each in events if isinstance(each, Line) and each.outcome == "ignored")
    outcomes = Counter(line.outcome for line, _, _ in for_the_log)
    with capsys.disabled():
        print(
            f"\n{room.talk_s / 60:.1f} min of talk, {len(room.said)} sentences, {len(session.taken)} utterances:"
            f" left out {dict(why)}, for the log {dict(outcomes)}; {ended.counts}"
            f"\n{len(text)} letters of text and {len(content)} bytes searched for"
            f" {len(set[str]().union(*map(pieces_of, room.said)))} pieces of words"
            f" ({len(set[str]().union(*(pieces_of(w) for _, h, _ in left_out for w in heard_as(h))))} as heard)"
            f" and {len(left_out)} sounds; found {sorted(said)}, {sorted(taken_for)}, {sounds};"
            f" {len(kept)} clips, all of entries: {kept <= named}"
        )
        for line, _, _ in for_the_log:
            print(f"    {line.outcome}: {line.text!r}")

    assert room.talk_s >= MINUTES * 60
    fewest = (1 if RECORDINGS else 4) * MINUTES  # a reader goes on without a pause for longer than who talks
    assert why["paused"] > fewest
    assert why["talk"] + why["unclear"] > fewest
    assert ended.counts.faults == 0
    for line, _, _ in left_out:
        assert (line.text, line.acts, line.meanings) == ("", (), ())
    assert (said, taken_for, sounds) == (set(), set(), [])
    assert kept == named != set()
    assert not [
        path for path in folder.rglob("*") if path.is_file() and path.read_bytes().startswith(FORMATS)
    ]
    # The same search finds what is there: the words and the sounds of entries.
    assert words_found(text, [line.text for line, _, _ in for_the_log], "")
    for line, _, utterance in for_the_log:
        if utterance is not None and line.heard is not None and line.heard.clip in kept:
            assert has_sound(content, utterance.samples)
