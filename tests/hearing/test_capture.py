"""Real capture: a file played into a private sound server is heard through PortAudio, over a lost device too."""

import queue
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

import numpy as np
import numpy.typing as npt
import pytest
import soundfile

from tests.hearing.pulse import PrivatePulse
from voicelog.hearing.endpointing import utterances
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block, read_whole

TWO_PHRASES = Path(__file__).with_name("audio") / "two_phrases.flac"
FIRST_PHRASE_UNTIL = 32000
"""Sample in the pause after the first phrase, long enough after it (audio/make.py)."""
PATIENCE_S = 20.0
"""How long to wait for what comes in well under a second on an idle machine."""


class Listener:
    """The child process that listens (listening_child.py)."""

    def __init__(self, pulse: PrivatePulse, out: Path) -> None:
        self._out = out
        self._child = subprocess.Popen(
            [sys.executable, "-m", "tests.hearing.listening_child", str(out)],
            cwd=Path(__file__).parents[2],
            env=pulse.environ,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
        )
        self._states: queue.Queue[str] = queue.Queue()
        threading.Thread(target=self._collect, args=(self._child.stdout,), daemon=True).start()

    def wait_for(self, state: str) -> None:
        """Until the microphone is in `state`."""
        while self._states.get(timeout=PATIENCE_S) != state:
            pass

    def stop(self) -> list[Block]:
        """End listening; what was heard."""
        self._child.communicate(timeout=PATIENCE_S)
        assert self._child.returncode == 0
        with np.load(self._out) as heard:
            assert heard["lost_samples"] == 0
            pieces = np.split(heard["samples"], np.cumsum(heard["sizes"])[:-1])
            return [
                Block(piece, int(start), float(arrived_s), bool(gap))
                for piece, start, arrived_s, gap in zip(
                    pieces, heard["starts"], heard["arrived_s"], heard["gaps"], strict=True
                )
            ]

    def kill(self) -> None:
        self._child.kill()
        self._child.wait()

    def _collect(self, lines: IO[str] | None) -> None:
        for line in lines or ():
            self._states.put(line.split()[0])


@contextmanager
def listening(pulse: PrivatePulse, out: Path) -> Iterator[Listener]:
    listener = Listener(pulse, out)
    try:
        listener.wait_for("listening")
        yield listener
    finally:
        listener.kill()


def likeness(played: Samples, heard: Samples) -> tuple[float, int]:
    """Greatest normalised correlation of `played` with a stretch of `heard`, and where that begins."""
    size = len(played) + len(heard) - 1
    correlation: npt.NDArray[np.float64] = np.fft.irfft(
        np.fft.rfft(heard, size) * np.conj(np.fft.rfft(played, size)), size
    )[: len(heard) - len(played) + 1]
    power = np.concatenate([[0.0], np.cumsum(np.square(heard, dtype=np.float64))])
    energy = power[len(played) :] - power[: -len(played)]
    scaled = correlation / np.sqrt(np.maximum(energy, 1e-9) * np.sum(np.square(played, dtype=np.float64)))
    return float(np.max(scaled)), int(np.argmax(scaled))


def test_what_is_played_is_heard(pulse: PrivatePulse, tmp_path: Path) -> None:
    """The sound server plays the file at 44.1 kHz; each of the two phrases is one utterance, and is itself."""
    played = read_whole(TWO_PHRASES).samples

    with listening(pulse, tmp_path / "heard.npz") as listener:
        pulse.play(TWO_PHRASES)
        blocks = listener.stop()

    assert not any(block.after_gap for block in blocks)
    assert blocks[-1].end_sample == sum(block.samples.size for block in blocks)
    found = list(utterances(blocks))
    expected = list(utterances([Block(played, 0, 0.0)]))
    assert len(found) == len(expected) == 2
    for one, original in zip(found, expected, strict=True):
        speech = played[original.start_sample : original.end_sample]
        alike, _ = likeness(speech, np.pad(one.samples, 4000))
        assert alike > 0.98
        assert one.rms_dbfs == pytest.approx(original.rms_dbfs, abs=1.0)


def test_a_microphone_that_is_taken_away_and_given_back(pulse: PrivatePulse, tmp_path: Path) -> None:
    one_phrase = tmp_path / "one_phrase.wav"
    soundfile.write(one_phrase, read_whole(TWO_PHRASES).samples[:FIRST_PHRASE_UNTIL], SAMPLE_RATE_HZ)

    with listening(pulse, tmp_path / "heard.npz") as listener:
        pulse.play(one_phrase)
        pulse.unplug()
        listener.wait_for("lost")
        pulse.plug_in()
        listener.wait_for("listening")
        pulse.play(one_phrase)
        blocks = listener.stop()

    gaps = [i for i, block in enumerate(blocks) if block.after_gap]
    assert len(gaps) == 2
    lost, back = (blocks[i] for i in gaps)
    assert lost.samples.size == 0
    passed_s = back.arrived_s - blocks[gaps[0] - 1].arrived_s
    missing_s = (back.start_sample - lost.start_sample) / SAMPLE_RATE_HZ
    assert missing_s == pytest.approx(passed_s - back.samples.size / SAMPLE_RATE_HZ, abs=0.001)
    found = list(utterances(blocks))
    assert [one.end_sample <= lost.start_sample for one in found] == [True, False]
    assert [one.index for one in found] == [0, 1]
