"""Live exams on real capture: the demo played into a private sound server, a lost microphone, the own voice."""

import json
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

import numpy as np
import pytest
import soundfile

from tests.corpora.demo_scenario import TRUTH
from tests.hearing.pulse import PrivatePulse
from voicelog import commands
from voicelog.errors import MissingPartError
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.engines.two import TwoListeners
from voicelog.hearing.sources import SAMPLE_RATE_HZ, FileSource
from voicelog.live.commands import exam
from voicelog.settings import Settings
from voicelog.speaking.voice import SystemVoice

PATIENCE_S = 40.0
Exam = dict[str, Any]


class Child:
    """A live exam in a process of its own."""

    def __init__(self, server: PrivatePulse, read_back: str) -> None:
        self._child = subprocess.Popen(
            [sys.executable, "-m", "tests.live.exam_child", read_back],
            cwd=Path(__file__).parents[2],
            env=server.environ,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
        )
        self._told: queue.Queue[str] = queue.Queue()
        self._printed: list[str] = []
        self.told: list[str] = []
        self._readers = [
            threading.Thread(target=self._collect, args=(self._child.stderr,), daemon=True),
            threading.Thread(target=self._keep, args=(self._child.stdout,), daemon=True),
        ]
        for reader in self._readers:
            reader.start()

    def wait_for(self, beginning: str) -> None:
        """Until it tells something that begins so."""
        try:
            while not self._told.get(timeout=PATIENCE_S).startswith(beginning):
                pass
        except queue.Empty:
            pytest.fail(f"it did not tell {beginning!r} but {self.told}")

    def end(self) -> Exam:
        """End it as a person does; the exam that it prints."""
        self._child.terminate()
        assert self._child.wait(PATIENCE_S) == 0
        for reader in self._readers:
            reader.join(PATIENCE_S)
        found: Exam = json.loads("".join(self._printed))
        return found

    def kill(self) -> None:
        self._child.kill()
        self._child.wait()
        for reader in self._readers:
            reader.join(PATIENCE_S)
        for pipe in (self._child.stdout, self._child.stderr):
            assert pipe is not None
            pipe.close()

    def _collect(self, lines: IO[str] | None) -> None:
        for line in lines or ():
            self._told.put(line)
            self.told.append(line)

    def _keep(self, lines: IO[str] | None) -> None:
        for line in lines or ():
            self._printed.append(line)


@contextmanager
def live(server: PrivatePulse, read_back: str = "off") -> Iterator[Child]:
    child = Child(server, read_back)
    try:
        child.wait_for("microphone: ")
        yield child
    finally:
        child.kill()


def play(server: PrivatePulse, path: Path, until_s: float | None = None) -> None:
    """Play a file into the sink, to its end or for some seconds."""
    player = subprocess.Popen(["paplay", str(path)], env=server.environ, stderr=subprocess.DEVNULL)
    try:
        player.wait(until_s or 180)
    except subprocess.TimeoutExpired:
        if until_s is None:
            raise


@pytest.fixture(scope="module", name="clips")
def _clips(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Single utterances of the demo, each with a second of silence after it; places in its script."""
    wanted = {3: "right eye", 4: "distance", 8: "sphere", 24: "missing"}
    folder, found = tmp_path_factory.mktemp("clips"), dict[str, Path]()
    for one in utterances(FileSource(commands.demo_audio()).blocks()):
        if one.index in wanted:
            found[wanted[one.index]] = folder / f"{one.index}.wav"
            sound = np.concatenate([one.samples, np.zeros(SAMPLE_RATE_HZ, np.float32)])
            soundfile.write(found[wanted[one.index]], sound, SAMPLE_RATE_HZ)
    return found


def entered(found: Exam) -> list[str]:
    """The accepted lines."""
    return [entry["text"] for entry in found["entries"] if entry["outcome"] == "accepted"]


def test_the_demo_heard_through_the_microphone_is_the_exam_of_the_file(
    server: PrivatePulse, two_listeners: TwoListeners, capsys: pytest.CaptureFixture[str]
) -> None:
    exam(Settings(), two_listeners, source=commands.demo_audio(), pace="fast", as_json=True)
    from_file: Exam = json.loads(capsys.readouterr().out)
    with live(server) as child:
        play(server, commands.demo_audio())
        time.sleep(2.0)
        heard = child.end()

    with capsys.disabled():
        print(f"\nlive demo: {json.dumps(heard['live'])}")
    assert entered(heard) == entered(from_file)
    for eye, truth in TRUTH.items():
        assert heard["eyes"][eye]["status"] == "solved"
        assert heard["eyes"][eye]["net"] == from_file["eyes"][eye]["net"]
        assert heard["eyes"][eye]["net"]["sphere"] == truth.sphere_d
        assert heard["eyes"][eye]["readings"] == pytest.approx(from_file["eyes"][eye]["readings"])
    assert [entry["text"] for entry in heard["entries"] if entry["outcome"] == "asked"] == []
    assert heard["live"]["utterances"] == from_file["live"]["utterances"]


def test_a_microphone_that_goes_in_mid_utterance_and_comes_back(
    server: PrivatePulse, clips: dict[str, Path]
) -> None:
    with live(server) as child:
        play(server, clips["right eye"])
        play(server, clips["distance"])
        play(server, clips["sphere"], until_s=1.5)
        server.unplug()
        child.wait_for("MICROPHONE LOST")
        server.plug_in()
        child.wait_for("microphone: ")
        time.sleep(3.0)  # the program's own notice has been played
        play(server, clips["sphere"])
        play(server, clips["missing"])
        time.sleep(1.5)
        heard = child.end()

    assert entered(heard) == [
        "right eye",
        "working distance sixty seven",
        "streak one twenty five neutral with sphere plus two and a quarter",
        "what is missing",
    ]
    assert heard["eyes"]["right"]["readings"][0]["gross"] == 2.25
    assert len(heard["eyes"]["right"]["readings"]) == 1


@pytest.fixture(name="voice")
def _needs_a_voice() -> None:
    try:
        SystemVoice().close()
    except MissingPartError as error:
        pytest.skip(str(error))


@pytest.mark.usefixtures("voice")
def test_the_own_read_back_in_the_microphone_makes_no_entry(
    server: PrivatePulse, clips: dict[str, Path]
) -> None:
    """The sink is its loudspeaker, too, and the answer to "what is missing" names both eyes."""
    with live(server, "full") as child:
        for clip, answer_s in (("right eye", 2.0), ("distance", 4.5), ("sphere", 5.0), ("missing", 9.0)):
            play(server, clips[clip])
            time.sleep(answer_s)
        heard = child.end()

    assert entered(heard) == [
        "right eye",
        "working distance sixty seven",
        "streak one twenty five neutral with sphere plus two and a quarter",
        "what is missing",
    ]
    assert [entry["text"] for entry in heard["entries"] if entry["outcome"] == "asked"] == []
    assert heard["live"]["own_speech"] >= 4
