"""The microphone's rules, on a stand-in for the sound driver; test_capture.py has the real thing."""

import importlib
import itertools
import os
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from types import ModuleType

import numpy as np
import numpy.typing as npt
import pytest

from tests.hearing.fake_sound import FakeDevice, FakeSound, FakeStream
from voicelog.errors import MissingPartError
from voicelog.hearing import portaudio
from voicelog.hearing.errors import DeviceError
from voicelog.hearing.microphone import MicrophoneSource, MicrophoneState
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block

BLOCK_S = 0.032


@pytest.fixture(name="sound")
def _sound(monkeypatch: pytest.MonkeyPatch) -> FakeSound:
    fake = FakeSound(FakeDevice("Desk microphone"))
    monkeypatch.setattr(portaudio, "load", lambda: fake)
    return fake


def tone(seconds: float, rate_hz: int, channels: int = 1, peak: float = 0.5) -> npt.NDArray[np.int16]:
    """440 Hz, shape (frames, channels); the second channel is silent."""
    time_s = np.arange(round(seconds * rate_hz)) / rate_hz
    data = np.zeros((len(time_s), channels), np.int16)
    data[:, 0] = np.round(32767 * peak * np.sin(2 * np.pi * 440 * time_s))
    return data


def play(stream: FakeStream, data: npt.NDArray[np.int16]) -> None:
    for start in range(0, len(data), stream.blocksize):
        stream.bring(data[start : start + stream.blocksize])


def listening(source: MicrophoneSource, until: Callable[[Block], bool]) -> list[Block]:
    """The blocks up to the one that `until` says yes to."""
    blocks = []
    for block in source.blocks():
        blocks.append(block)
        if until(block):
            source.close()
    return blocks


def after_seconds(seconds: float) -> Callable[[Block], bool]:
    return lambda block: block.end_sample >= seconds * SAMPLE_RATE_HZ


@pytest.mark.parametrize(
    ("rates_hz", "inputs", "opened"),
    [
        ((16000,), 1, (16000, 1)),
        ((48000, 16000), 2, (16000, 1)),
        ((48000,), 1, (48000, 1)),
        ((44100,), 2, (44100, 1)),
    ],
)
def test_opened_at_16_khz_mono_or_else_resampled(
    sound: FakeSound, rates_hz: tuple[int, ...], inputs: int, opened: tuple[int, int]
) -> None:
    sound.plugged_in[0].rates_hz, sound.plugged_in[0].inputs = rates_hz, inputs
    sound.on_start = lambda stream: play(stream, tone(2.0, stream.samplerate, stream.channels))

    blocks = listening(MicrophoneSource(), after_seconds(1.9))

    (stream,) = sound.streams
    samples = np.concatenate([block.samples for block in blocks])
    spectrum = np.abs(np.fft.rfft(samples[:SAMPLE_RATE_HZ]))
    assert (stream.samplerate, stream.channels) == opened
    assert stream.closed
    assert int(np.argmax(spectrum)) == 440
    assert float(np.max(samples[4000:-4000])) == pytest.approx(0.5, rel=0.01)


def test_a_device_that_only_gives_two_channels_is_averaged(sound: FakeSound) -> None:
    sound.plugged_in[0].inputs = 2
    refused = sound.check_input_settings

    def only_stereo(device: int, channels: int, dtype: str, extra: None, rate_hz: int) -> None:
        if channels == 1:
            raise sound.PortAudioError("Invalid number of channels")
        refused(device, channels, dtype, extra, rate_hz)

    sound.check_input_settings = only_stereo  # type: ignore[method-assign]
    sound.on_start = lambda stream: play(stream, tone(1.0, stream.samplerate, stream.channels))

    blocks = listening(MicrophoneSource(), after_seconds(0.9))

    assert sound.streams[0].channels == 2
    assert float(np.max(np.concatenate([block.samples for block in blocks]))) == pytest.approx(0.25, rel=0.01)


def test_one_counter_without_gaps_while_all_is_well(sound: FakeSound) -> None:
    sound.on_start = lambda stream: play(stream, tone(1.0, stream.samplerate))
    source = MicrophoneSource()

    blocks = listening(source, after_seconds(0.9))

    assert blocks[0].start_sample == 0
    assert all(a.end_sample == b.start_sample for a, b in itertools.pairwise(blocks))
    assert not any(block.after_gap for block in blocks)
    assert (source.lost_samples, source.overflows) == (0, 0)


def test_sound_that_does_not_fit_into_the_queue_is_counted_told_and_leaves_a_gap(sound: FakeSound) -> None:
    told = []
    source = MicrophoneSource(
        on_state=lambda state, text: told.append((state, text)), max_queue_s=10 * BLOCK_S
    )
    started = threading.Event()

    def too_much(stream: FakeStream) -> None:
        play(stream, tone(30 * BLOCK_S, stream.samplerate))
        started.set()

    sound.on_start = too_much
    blocks: list[Block] = []
    for block in source.blocks():
        blocks.append(block)
        if len(blocks) == 10:
            play(sound.streams[0], tone(2 * BLOCK_S, SAMPLE_RATE_HZ))
        if len(blocks) == 12:
            source.close()

    assert [block.start_sample // 512 for block in blocks] == [*range(10), 30, 31]
    assert [block.after_gap for block in blocks] == [False] * 10 + [True, False]
    assert (source.lost_samples, source.overflows) == (20 * 512, 1)
    assert [state for state, _ in told] == [MicrophoneState.LISTENING, MicrophoneState.OVERFLOW]
    assert "0.6 s" in told[1][1]


def test_sound_that_the_driver_dropped_is_told_too(sound: FakeSound) -> None:
    states = []

    def hiccup(stream: FakeStream) -> None:
        stream.bring(tone(BLOCK_S, SAMPLE_RATE_HZ))
        stream.bring(tone(BLOCK_S, SAMPLE_RATE_HZ), overflow=True)

    sound.on_start = hiccup
    source = MicrophoneSource(on_state=lambda state, text: states.append(state))

    blocks = listening(source, after_seconds(2 * BLOCK_S))

    assert [block.after_gap for block in blocks] == [False, True]
    assert source.overflows == 1
    assert MicrophoneState.OVERFLOW in states


def test_a_device_that_goes_comes_back_on_the_same_clock(sound: FakeSound) -> None:
    states: list[tuple[MicrophoneState, str]] = []
    device = sound.plugged_in[0]

    def first(stream: FakeStream) -> None:
        play(stream, tone(10 * BLOCK_S, SAMPLE_RATE_HZ))
        sound.plugged_in.clear()
        sound.on_start = lambda stream: play(stream, tone(10 * BLOCK_S, SAMPLE_RATE_HZ))
        stream.finished_callback()

    def on_state(state: MicrophoneState, text: str) -> None:
        states.append((state, text))
        if "no sound device" in text:
            sound.plugged_in.append(device)

    sound.on_start = first
    source = MicrophoneSource(on_state=on_state, retry_s=0.1)

    blocks = listening(source, lambda block: block.samples.size > 0 and block.end_sample > 15 * 512)

    back = next(i for i, block in enumerate(blocks) if block.start_sample > 10 * 512)
    passed_s = blocks[back].arrived_s - BLOCK_S - blocks[back - 2].arrived_s
    assert [block.start_sample for block in blocks[:11]] == [i * 512 for i in range(11)]
    assert (blocks[10].samples.size, blocks[10].after_gap) == (0, True)
    assert blocks[back].after_gap
    assert blocks[back].start_sample - 10 * 512 == round(max(0.0, passed_s) * SAMPLE_RATE_HZ)
    assert passed_s >= 0.1
    assert [state for state, _ in states] == ["listening", "lost", "lost", "listening"]
    assert all(stream.closed for stream in sound.streams)


def test_a_busy_device_is_told_and_waited_for(sound: FakeSound) -> None:
    told: list[str] = []
    sound.plugged_in[0].busy = True
    sound.on_start = lambda stream: play(stream, tone(1.0, SAMPLE_RATE_HZ))

    def on_state(state: MicrophoneState, text: str) -> None:
        told.append(f"{state}: {text}")
        sound.plugged_in[0].busy = False

    blocks = listening(MicrophoneSource(on_state=on_state, retry_s=0.01), after_seconds(0.5))

    assert told == [
        "lost: Desk microphone cannot be opened: missing, or in use (Error opening stream: Device unavailable)",
        "listening: Desk microphone",
    ]
    assert blocks[0].start_sample == 0


def test_a_device_that_gives_nothing_is_noticed(sound: FakeSound, monkeypatch: pytest.MonkeyPatch) -> None:
    """A stream may stay open without an error, and without sound."""
    monkeypatch.setattr("voicelog.hearing.microphone._FIRST_SOUND_S", 0.2)
    states: list[MicrophoneState] = []

    def on_state(state: MicrophoneState, text: str) -> None:
        states.append(state)
        source.close()

    source = MicrophoneSource(on_state=on_state, retry_s=0.01)
    list(source.blocks())

    assert states == [MicrophoneState.LOST]


def test_devices_are_chosen_by_a_part_of_their_name(sound: FakeSound) -> None:
    sound.plugged_in += [
        FakeDevice("Lapel (USB)"),
        FakeDevice("lapel"),
        FakeDevice("Speakers", inputs=0, outputs=2),
    ]
    portaudio.rescan()
    devices = portaudio.input_devices()

    assert [device.name for device in devices] == ["Desk microphone", "Lapel (USB)", "lapel"]
    assert portaudio.choose(devices, None).name == "Desk microphone"
    assert portaudio.choose(devices, "usb").name == "Lapel (USB)"
    assert portaudio.choose(devices, "LAPEL").name == "lapel"
    with pytest.raises(DeviceError, match=r"'headset'; there are: Desk microphone, Lapel"):
        portaudio.choose(devices, "headset")
    with pytest.raises(DeviceError, match="no sound device"):
        portaudio.choose([], None)


def test_portaudio_is_not_started_anew_under_an_open_stream(sound: FakeSound) -> None:
    with portaudio.in_use():
        assert not portaudio.rescan(timeout_s=0.01)
    assert sound.rescans == 0

    assert portaudio.rescan(timeout_s=0.01)
    assert sound.rescans == 1


@pytest.mark.parametrize(
    ("error", "remedy"),
    [(OSError("PortAudio library not found"), "libportaudio2"), (ImportError("sounddevice"), "pip install")],
)
def test_without_portaudio_what_to_install_is_said(
    monkeypatch: pytest.MonkeyPatch, error: Exception, remedy: str
) -> None:
    def failing_import(name: str) -> ModuleType:
        raise error

    monkeypatch.setattr(importlib, "import_module", failing_import)

    with pytest.raises(MissingPartError, match=remedy) as caught:
        MicrophoneSource()

    assert "\n" not in str(caught.value)


def test_what_libraries_print_goes_to_the_file(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    with portaudio.native_messages_to(tmp_path / "sound.log"):
        os.write(2, b"Expression failed\n")
        print("ours", file=sys.stderr)
    os.write(2, b"afterwards\n")

    assert (tmp_path / "sound.log").read_text() == "Expression failed\n"
    assert capfd.readouterr().err == "ours\nafterwards\n"
