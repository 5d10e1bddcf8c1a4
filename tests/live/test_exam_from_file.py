"""The live exam from a recording, its figures, keys and what is missing; test_capture_exam.py has the microphone."""

import importlib
import json
import os
import pty
import sys
import time
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest
import soundfile

from tests.live.run import live_exam
from tests.session.test_session import hearing
from voicelog.cli import bench, check, main
from voicelog.errors import MissingPartError, VoicelogError
from voicelog.exam.events import Event
from voicelog.hearing.engines.protocol import Hearing, Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, read_whole
from voicelog.live import devices, keys
from voicelog.live.latency import latency
from voicelog.screen.status import meter
from voicelog.session import Memory
from voicelog.settings import Settings, save_settings

TWO_PHRASES = Path(__file__).parents[1] / "hearing" / "audio" / "two_phrases.flac"


class Script:
    """An engine that hears the phrases of a script one after the other, once for each sound."""

    name = "script"

    def __init__(self, *phrases: str) -> None:
        self._phrases = iter(("warm up", *phrases))
        self._known: dict[bytes, Hearing] = {}

    def hear(self, samples: Samples, rule: str) -> Hearing:
        sound = samples.tobytes()
        if sound not in self._known:
            self._known[sound] = hearing(next(self._phrases))
        return self._known[sound]


def test_an_exam_from_a_recording_is_stored_and_printed(capsys: pytest.CaptureFixture[str]) -> None:
    store = Memory()
    script = Script("right eye", "streak vertical neutral at plus one")

    session = live_exam(
        Settings(working_distance_cm=50), script, source=TWO_PHRASES, pace="fast", store=store, as_json=True
    )

    printed = json.loads(capsys.readouterr().out)
    assert [entry["text"] for entry in printed["entries"]] == [
        "right eye",
        "streak vertical neutral at plus one",
    ]
    assert printed["eyes"]["right"]["readings"][0]["net"] == -1.0
    assert printed["live"]["utterances"] == 2
    assert printed["live"]["latency"]["count"] == 2
    events: list[Event] = store.events
    assert events == list(session.state.events)


def test_latency_at_real_pace_is_the_pause_and_little_more(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A scripted recogniser takes no time: what is left is the pause that ends an utterance, and the drawing."""
    path = tmp_path / "first phrase.wav"
    soundfile.write(path, read_whole(TWO_PHRASES).samples[: 2 * SAMPLE_RATE_HZ], SAMPLE_RATE_HZ)

    monkeypatch.setattr(bench, "chosen_engine", lambda *_: Script("right eye"))
    monkeypatch.setattr(bench, "demo_audio", lambda: path)

    assert main(["bench", "latency", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["latency"]
    assert found["count"] == 1
    assert 0.47 < found["worst_s"] < 1.0


def test_figures_of_latencies() -> None:
    found = latency([0.1 * i for i in range(1, 22)])

    assert found.count == 21
    assert found.median_s == pytest.approx(1.1)
    assert found.p95_s == pytest.approx(2.0)
    assert latency([]).as_json() == {"count": 0, "median_s": None, "p95_s": None, "worst_s": None}


def test_an_unusable_recording_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(VoicelogError, match="no such file"):
        live_exam(Settings(), Script(), source=tmp_path / "none.wav")


def test_without_portaudio_the_package_is_named_and_a_recording_still_works(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def missing(name: str) -> ModuleType:
        if name == "sounddevice":
            raise OSError("PortAudio library not found")
        return import_module(name)

    monkeypatch.setattr(importlib, "import_module", missing)

    with pytest.raises(MissingPartError, match="libportaudio2"):
        live_exam(Settings(), Script())
    live_exam(Settings(), Script("right eye", "left eye"), source=TWO_PHRASES, pace="fast", as_json=True)
    assert len(json.loads(capsys.readouterr().out)["entries"]) == 2


def test_push_to_talk_needs_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    with Path(os.devnull).open(encoding="utf-8") as nothing:
        monkeypatch.setattr(sys, "stdin", nothing)
        with pytest.raises(VoicelogError, match="terminal"):
            live_exam(Settings(), Script(), source=TWO_PHRASES, push_to_talk=True)


def test_keys_are_read_one_by_one_from_a_terminal_and_it_is_left_as_it_was(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    import termios

    master, slave = pty.openpty()
    pressed: list[str] = []
    ended: list[bool] = []
    with os.fdopen(slave, encoding="utf-8") as terminal:
        monkeypatch.setattr(sys, "stdin", terminal)
        before = termios.tcgetattr(slave)
        with keys.reading(pressed.append, lambda: ended.append(True)):
            os.write(master, "a ü\n\x04".encode())
            deadline_s = time.monotonic() + 10
            while not ended and time.monotonic() < deadline_s:
                time.sleep(0.01)
        assert termios.tcgetattr(slave) == before
    os.close(master)

    assert pressed == ["a", " ", "ü", "\n"]
    assert ended == [True]


def test_typed_keys_make_lines() -> None:
    lines: list[str] = []
    buffer = keys.LineBuffer(lines.append)

    for key in "righx\x7ft eye\n\n\x1bleft":
        buffer(key)

    assert lines == ["right eye"]
    assert buffer.text == "left"


def test_the_device_is_remembered_until_it_is_forgotten(tmp_path: Path) -> None:
    assert devices.remembered(tmp_path) is None
    devices.remember("Headset ü", tmp_path / "new")
    assert devices.remembered(tmp_path / "new") == "Headset ü"
    devices.remember(None, tmp_path / "new")
    assert devices.remembered(tmp_path / "new") is None
    (tmp_path / "microphone.json").write_text("[", encoding="utf-8")
    assert devices.remembered(tmp_path) is None


@pytest.mark.parametrize(
    ("level_dbfs", "steps"), [(-120.0, 0), (-60.0, 0), (-30.0, 10), (0.0, 20), (6.0, 20)]
)
def test_the_meter(level_dbfs: float, steps: int) -> None:
    assert meter(level_dbfs).count("█") == steps


def test_the_microphone_named_now_goes_before_the_settings_and_these_before_the_last_one(
    tmp_path: Path,
) -> None:
    assert devices.chosen(None, None, tmp_path) is None
    devices.remember("last", tmp_path)

    assert devices.chosen(None, None, tmp_path) == "last"
    assert devices.chosen(None, "set", tmp_path) == "set"
    assert devices.chosen("named", "set", tmp_path) == "named"


def test_the_check_listens_to_the_microphone_of_the_settings(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def opened(device: str | None) -> None:
        raise MissingPartError(f"no microphone {device}")

    monkeypatch.setattr(check, "MicrophoneSource", opened)
    monkeypatch.setattr(check, "chosen_engine", lambda *_: Script())
    save_settings({"microphone": "desk"})

    assert main(["check"]) == 3
    assert "no microphone desk" in capsys.readouterr().err
