"""Live exams on real capture: the demo played into a private sound server, a lost microphone, the own voice."""

import json
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, Any

import numpy as np
import pytest
import soundfile

from tests.corpora.demo_scenario import TRUTH, script
from tests.english import load
from tests.hearing.pulse import PrivatePulse
from voicelog.demo import demo_audio
from voicelog.errors import MissingPartError
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block, read_whole
from voicelog.measuring.manifests import EXAM_RULES
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader, NotAPhraseError
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
def live(server: PrivatePulse, read_back: str = "off", *, greeted: bool = True) -> Iterator[Child]:
    """With `greeted` it has said its greeting, where it says anything."""
    child = Child(server, read_back)
    try:
        child.wait_for("microphone: ")
        if read_back != "off" and greeted:
            child.wait_for("spoken")
            time.sleep(1.5)
        yield child
    finally:
        child.kill()


@pytest.fixture(name="quiet_room")
def _quiet_room(server: PrivatePulse, tmp_path: Path) -> Iterator[None]:
    """Faint noise all along, at -70 dBFS: a sink without any sound is a muted microphone, and that is told aloud."""
    noise = np.random.default_rng(0).standard_normal(240 * SAMPLE_RATE_HZ) * 10 ** (-70 / 20)
    soundfile.write(tmp_path / "noise.wav", noise, SAMPLE_RATE_HZ)
    with playing(server, tmp_path / "noise.wav"):
        yield


@contextmanager
def playing(server: PrivatePulse, path: Path) -> Iterator[subprocess.Popen[bytes]]:
    """Play a file into the sink meanwhile."""
    player = subprocess.Popen(["paplay", str(path)], env=server.environ, stderr=subprocess.DEVNULL)
    try:
        yield player
    finally:
        player.kill()
        player.wait()


def play(server: PrivatePulse, path: Path) -> None:
    """Play a file into the sink, to its end."""
    with playing(server, path) as player:
        assert player.wait(180) == 0


@pytest.fixture(scope="module", name="clips")
def _clips(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Single lines of the demo, each with a second of silence after it; where they are in it, in seconds."""
    folder, found = tmp_path_factory.mktemp("clips"), dict[str, Path]()
    for name, (start_s, end_s) in {"eye": (14, 17), "sphere": (32, 38), "missing": (103, 107)}.items():
        start, end = start_s * SAMPLE_RATE_HZ, end_s * SAMPLE_RATE_HZ
        (one,) = utterances([Block(demo_samples()[start:end], 0, 0.0)])
        found[name] = folder / f"{name}.wav"
        sound = np.concatenate([one.samples, np.zeros(SAMPLE_RATE_HZ, np.float32)])
        soundfile.write(found[name], sound, SAMPLE_RATE_HZ)
    return found


@pytest.fixture(scope="module", name="demo")
def _demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with its pauses cut to a second: it is played as long as it lasts."""
    path = tmp_path_factory.mktemp("demo") / "demo.wav"
    soundfile.write(path, with_short_pauses(demo_samples()), SAMPLE_RATE_HZ)
    return path


@pytest.fixture(scope="module", name="beginning")
def _beginning(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Its first half minute: other talk, and the first entries."""
    path = tmp_path_factory.mktemp("demo") / "beginning.wav"
    first = demo_samples()[: 38 * SAMPLE_RATE_HZ]  # ends in a pause
    soundfile.write(path, with_short_pauses(first), SAMPLE_RATE_HZ)
    return path


def demo_samples() -> Samples:
    return read_whole(demo_audio(), max_seconds=200).samples


def with_short_pauses(samples: Samples) -> Samples:
    """The sound, 16 kHz, with at most a second between two utterances, of its own room noise."""
    half = SAMPLE_RATE_HZ // 2
    kept, at = list[Samples](), 0
    for one in utterances([Block(samples, 0, 0.0)]):
        start = max(at, one.start_sample - half)
        at = min(len(samples), one.end_sample + half)
        kept.append(samples[start:at])
    return np.concatenate(kept)


def meant(*lines: str) -> list[Any]:
    """What lines mean; those that are no phrases of the log mean nothing and are left out."""
    reader, found = LineReader(load(), EXAM_RULES, Layer.WRITTEN), list[Any]()
    for line in lines:
        with suppress(NotAPhraseError):
            ((meaning,),) = reader.understand(line).readings
            found.append(meaning.model_dump(mode="json"))
    return found


def entered(found: Exam) -> list[Any]:
    """The meanings of the accepted lines."""
    accepted = [entry for entry in found["entries"] if entry["outcome"] == "accepted"]
    return [meaning for entry in accepted for meaning in entry["meanings"]]


def asked(found: Exam) -> list[str]:
    return [entry["text"] for entry in found["entries"] if entry["outcome"] == "asked"]


EYE = "right eye"
SPHERE = "streak one twenty five neutral with sphere plus two and a quarter"
MISSING = "what is missing"


@pytest.mark.sweep
def test_the_beginning_of_the_demo_heard_through_the_microphone_is_that_of_its_script(
    server: PrivatePulse, beginning: Path
) -> None:
    with live(server) as child:
        play(server, beginning)
        child.wait_for(f"accepted: {SPHERE}")
        heard = child.end()

    found = entered(heard)
    assert len(found) >= 4
    assert found == meant(*(line.text for line in script() if line.role == "examiner"))[: len(found)]
    assert asked(heard) == []


@pytest.mark.sweep
def test_the_demo_heard_through_the_microphone_is_the_exam_of_its_script(
    server: PrivatePulse, demo: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Every phrase once, in order, and both refractions: those that tests/session finds in the file itself.

    Other talk may be cut elsewhere than in the file, so the number of utterances is not compared.
    """
    with live(server) as child:
        play(server, demo)
        child.wait_for("accepted: stop listening")
        heard = child.end()

    with capsys.disabled():
        print(f"\nlive demo: {json.dumps(heard['live'])}")
    assert entered(heard) == meant(*(line.text for line in script() if line.role == "examiner"))
    assert asked(heard) == []
    for eye, truth in TRUTH.items():
        net = heard["eyes"][eye]["net"]
        assert heard["eyes"][eye]["status"] == "solved"
        found = (net["sphere"], net["cylinder"], net["axis"])
        assert found == (truth.sphere_d, truth.cylinder_d, truth.axis_deg)


def test_a_microphone_that_goes_in_mid_utterance_and_comes_back(
    server: PrivatePulse, clips: dict[str, Path]
) -> None:
    """What was said before counts, the cut phrase enters nothing, said again it enters once."""
    with live(server) as child:
        play(server, clips["eye"])
        child.wait_for(f"accepted: {EYE}")
        with playing(server, clips["sphere"]):
            time.sleep(2.5)  # behind "streak one twenty five": so much by itself would be asked about
            server.unplug()
            child.wait_for("MICROPHONE LOST")
        server.plug_in()
        child.wait_for("microphone: ")
        play(server, clips["sphere"])
        child.wait_for(f"accepted: {SPHERE}")
        heard = child.end()

    assert entered(heard) == meant(EYE, SPHERE)
    assert [each["gross"] for each in heard["eyes"]["right"]["readings"]] == [2.25]


@pytest.fixture(name="voice")
def _needs_a_voice() -> None:
    try:
        SystemVoice().close()
    except MissingPartError as error:
        pytest.skip(str(error))


@pytest.mark.sweep
@pytest.mark.usefixtures("voice", "quiet_room")
def test_the_own_read_back_in_the_microphone_makes_no_entry(
    server: PrivatePulse, clips: dict[str, Path]
) -> None:
    """The sink is its loudspeaker, too, and the answer to "what is missing" names both eyes.

    What the canceller leaves of the program's words is nobody's: there is a line for each thing that was said, and none
    for a word of its own.
    """
    with live(server, "full") as child:
        for clip in ("eye", "sphere", "missing"):
            play(server, clips[clip])
            child.wait_for("spoken")
            time.sleep(1.5)
        heard = child.end()

    assert entered(heard) == meant(EYE, SPHERE, MISSING)
    assert [entry["outcome"] for entry in heard["entries"]] == ["accepted"] * 3
    assert heard["live"]["faults"] == 0


@pytest.mark.sweep
@pytest.mark.usefixtures("voice", "quiet_room")
def test_the_first_words_may_be_said_over_the_greeting(server: PrivatePulse, clips: dict[str, Path]) -> None:
    """Before the canceller has learned anything; what was said then is heard when the greeting is over."""
    with live(server, "full", greeted=False) as child:
        play(server, clips["eye"])
        child.wait_for(f"accepted: {EYE}")
        play(server, clips["sphere"])
        child.wait_for(f"accepted: {SPHERE}")
        heard = child.end()

    assert entered(heard) == meant(EYE, SPHERE)
    assert asked(heard) == []
