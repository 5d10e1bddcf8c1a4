"""The system voice: what it says is speech; what is missing is told."""

import io
import json
import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
import soundfile
import soxr

from voicelog.errors import MissingPartError
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.sources import Block
from voicelog.speaking import synthesis
from voicelog.speaking import voice as voice_module
from voicelog.speaking.errors import SpeakingError
from voicelog.speaking.voice import SystemVoice


@pytest.fixture(name="voice")
def _voice() -> Iterator[SystemVoice]:
    try:
        voice = SystemVoice()
    except MissingPartError as error:
        pytest.skip(str(error))
    yield voice
    voice.close()


def test_what_it_says_is_speech_and_longer_for_more_words(voice: SystemVoice) -> None:
    short = voice.speak("plus three")
    full = voice.speak("right, streak vertical, plus three")

    assert full.samples.dtype == np.float32
    assert 0.3 < len(short.samples) / short.rate_hz < 2.0
    assert len(full.samples) / full.rate_hz > 1.5 * len(short.samples) / short.rate_hz
    found = list(utterances([Block(soxr.resample(full.samples, full.rate_hz, 16000), 0, 0.0)]))
    assert len(found) == 1


def test_a_long_text_is_spoken_to_its_end_from_the_first_request_on(voice: SystemVoice) -> None:
    times = 100  # long enough that the sound is not written at once
    many = voice.speak("plus three. " * times)
    few = voice.speak("plus three. " * (times // 2))

    assert len(many.samples) / len(few.samples) == pytest.approx(2.0, rel=0.01)


class Driver:
    """Writes an empty file for the first `empty` of the texts it is given."""

    def __init__(self, empty: int) -> None:
        self.empty = empty

    def setProperty(self, name: str, value: object) -> None:
        pass

    def getProperty(self, name: str) -> list[SimpleNamespace]:
        return [SimpleNamespace(id="any", name="any")]

    def save_to_file(self, text: str, path: str) -> None:
        soundfile.write(path, np.full(0 if self.empty > 0 else 100, 0.5), 22050, format="WAV")
        self.empty -= 1

    def runAndWait(self) -> None:
        pass


@pytest.mark.parametrize(("empty", "error"), [(0, None), (2, None), (3, "nothing was spoken")])
def test_an_empty_file_is_asked_for_again(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, empty: int, error: str | None
) -> None:
    monkeypatch.setattr(synthesis, "_engine", lambda: Driver(empty))
    request = json.dumps({"text": "plus three", "path": str(tmp_path / "spoken.wav")})
    answers = io.StringIO()

    synthesis.serve(io.StringIO(request + "\n"), answers, 190, "")

    assert [json.loads(line)["error"] for line in answers.getvalue().splitlines()] == [None, error]


def test_the_same_text_twice_is_spoken_twice(voice: SystemVoice) -> None:
    spoken = [voice.speak("axis one seventy five") for _ in range(3)]

    lengths_s = [len(one.samples) / one.rate_hz for one in spoken]
    assert min(lengths_s) > 0.5
    assert max(lengths_s) - min(lengths_s) < 0.01  # eSpeak varies by a sample or two


def test_nothing_is_printed(voice: SystemVoice, capfd: pytest.CaptureFixture[str]) -> None:
    voice.speak("plus three")

    assert capfd.readouterr() == ("", "")


def test_a_voice_that_has_ended_is_an_error_of_one_line(voice: SystemVoice) -> None:
    voice.close()

    with pytest.raises(SpeakingError, match=r"^the system voice failed: it has been closed$"):
        voice.speak("plus three")


def test_a_helper_that_dies_is_an_error(voice: SystemVoice) -> None:
    voice._helper.kill()
    voice._helper.wait()

    with pytest.raises(SpeakingError, match="it has stopped"):
        voice.speak("plus three")


def test_a_voice_by_a_name_that_no_voice_has() -> None:
    with pytest.raises(MissingPartError, match=r"no system voice named 'nobody'|read-back needs"):
        SystemVoice(voice="nobody")


def test_without_pyttsx3_what_to_install_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(voice_module, "find_spec", lambda name: None)

    with pytest.raises(MissingPartError, match=r"pip install pyttsx3.*espeak-ng"):
        SystemVoice()


def test_a_helper_that_does_not_answer_is_given_up(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    sleeper = tmp_path / "python"
    sleeper.write_text(f"#!{sys.executable}\nimport time\ntime.sleep(60)\n")
    sleeper.chmod(0o700)
    monkeypatch.setattr(sys, "executable", str(sleeper))
    monkeypatch.setattr(voice_module, "find_spec", lambda name: object())
    monkeypatch.setattr(voice_module, "_START_S", 0.3)

    with pytest.raises(MissingPartError, match=r"did not answer within 0.3 s"):
        SystemVoice()
