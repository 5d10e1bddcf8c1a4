"""Recordings as sources: rates, channels, formats, broken files. Sound is tones of known pitch and height."""

import itertools
import math
import struct
import time
import tracemalloc
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pytest
import soundfile

from voicelog.errors import VoicelogError
from voicelog.hearing.errors import AudioError
from voicelog.hearing.levels import Samples, clipped_fraction
from voicelog.hearing.sources import BLOCK_SAMPLES, SAMPLE_RATE_HZ, FileSource, read_whole

TONE_HZ = 440.0


def tone(peak: float, seconds: float, rate_hz: int) -> Samples:
    time_s = np.arange(round(seconds * rate_hz)) / rate_hz
    return (peak * np.sin(2 * np.pi * TONE_HZ * time_s)).astype(np.float32)


def pitch_hz(samples: Samples) -> float:
    """Frequency of the strongest component."""
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    return float(np.argmax(spectrum)) * SAMPLE_RATE_HZ / len(samples)


def written(path: Path, samples: Samples, rate_hz: int, **how: str) -> Path:
    soundfile.write(path, samples, rate_hz, **how)
    return path


def float_wav(path: Path, values: npt.ArrayLike, rate_hz: int = SAMPLE_RATE_HZ) -> Path:
    """A float WAV file built by hand, so that it can hold what no program would write."""
    data = np.asarray(values, "<f4").tobytes()
    form = struct.pack("<HHIIHH", 3, 1, rate_hz, rate_hz * 4, 4, 32)
    chunks = b"WAVE" + b"fmt " + struct.pack("<I", 16) + form + b"data" + struct.pack("<I", len(data)) + data
    path.write_bytes(b"RIFF" + struct.pack("<I", len(chunks)) + chunks)
    return path


@pytest.mark.parametrize("channels", [1, 2])
@pytest.mark.parametrize("rate_hz", [8000, 11025, 16000, 22050, 44100, 48000, 96000, 192000])
def test_any_rate_and_channel_count_gives_the_same_tone(tmp_path: Path, rate_hz: int, channels: int) -> None:
    one = tone(0.5, 2.0, rate_hz)
    path = written(tmp_path / "tone.wav", np.column_stack([one] * channels), rate_hz)

    samples = read_whole(path).samples

    middle = samples[4000:-4000]
    assert samples.dtype == np.float32
    assert abs(len(samples) - 2 * SAMPLE_RATE_HZ) <= 1
    assert pitch_hz(samples) == pytest.approx(TONE_HZ, abs=0.5)
    assert float(np.max(middle)) == pytest.approx(0.5, rel=0.01)
    assert math.sqrt(float(np.mean(middle**2))) == pytest.approx(0.5 / math.sqrt(2), rel=0.01)


@pytest.mark.parametrize(
    ("name", "how"),
    [
        ("tone.wav", {"subtype": "PCM_24"}),
        ("tone.flac", {}),
        ("tone.ogg", {"format": "OGG", "subtype": "VORBIS"}),
        ("tone.opus", {"format": "OGG", "subtype": "OPUS"}),
        ("tone.mp3", {"format": "MP3"}),
        ("tone.aiff", {}),
    ],
)
def test_formats(tmp_path: Path, name: str, how: dict[str, str]) -> None:
    path = written(tmp_path / name, tone(0.5, 2.0, 48000), 48000, **how)

    recording = read_whole(path)

    assert recording.notes == ()
    assert len(recording.samples) == pytest.approx(2 * SAMPLE_RATE_HZ, abs=0.05 * SAMPLE_RATE_HZ)  # MP3 pads
    assert pitch_hz(recording.samples) == pytest.approx(TONE_HZ, abs=1.0)
    assert float(np.max(recording.samples[4000:-4000])) == pytest.approx(0.5, rel=0.05)  # lossy formats


def test_mp3_read_in_pieces_is_the_same_as_read_at_once(tmp_path: Path) -> None:
    """A pure tone needs few bits a frame, so frames lean on those before: a seek in between is heard."""
    path = written(tmp_path / "tone.mp3", tone(0.5, 2.0, SAMPLE_RATE_HZ), SAMPLE_RATE_HZ)
    at_once, _ = soundfile.read(path, dtype="float32")

    assert np.allclose(read_whole(path).samples, at_once, atol=1e-6)


def test_channels_are_averaged_and_never_added(tmp_path: Path) -> None:
    loud = tone(0.9, 0.5, SAMPLE_RATE_HZ)
    both = np.column_stack([loud, loud / 3])
    path = written(tmp_path / "stereo.wav", both, SAMPLE_RATE_HZ, subtype="FLOAT")

    assert np.allclose(read_whole(path).samples, loud * 2 / 3, atol=1e-6)


def test_one_integer_counter_without_drift(tmp_path: Path) -> None:
    """A minute at 44.1 kHz is 960,000 samples at 16 kHz, not a few hundred less."""
    path = written(tmp_path / "minute.flac", tone(0.5, 60.0, 44100), 44100)

    blocks = list(FileSource(path).blocks())

    assert blocks[0].start_sample == 0
    assert all(a.end_sample == b.start_sample for a, b in itertools.pairwise(blocks))
    assert {block.samples.size for block in blocks[:-1]} == {BLOCK_SAMPLES}
    assert abs(blocks[-1].end_sample - 60 * SAMPLE_RATE_HZ) <= 1
    assert not any(block.after_gap for block in blocks)


def test_reading_anew_gives_the_same(tmp_path: Path) -> None:
    source = FileSource(written(tmp_path / "tone.wav", tone(0.5, 0.5, 22050), 22050))

    first, second = ([block.samples for block in source.blocks()] for _ in range(2))

    assert np.array_equal(np.concatenate(first), np.concatenate(second))


def test_clipped_files_are_read_and_still_look_clipped_after_resampling(tmp_path: Path) -> None:
    path = written(tmp_path / "clipped.wav", np.clip(tone(3.0, 1.0, 44100), -1, 1), 44100)

    assert clipped_fraction(read_whole(path).samples) == pytest.approx(
        1 - 2 / math.pi * math.asin(1 / 3), abs=0.05
    )


def test_real_pace_hands_a_block_over_when_its_last_sample_is_spoken(tmp_path: Path) -> None:
    path = written(tmp_path / "tone.wav", tone(0.5, 0.4, SAMPLE_RATE_HZ), SAMPLE_RATE_HZ)
    source = FileSource(path, pace="real")
    started_s = time.monotonic()

    for block in source.blocks():
        assert block.arrived_s - started_s >= block.end_sample / SAMPLE_RATE_HZ


def test_close_ends_the_blocks(tmp_path: Path) -> None:
    source = FileSource(written(tmp_path / "tone.wav", tone(0.5, 1.0, SAMPLE_RATE_HZ), SAMPLE_RATE_HZ))
    blocks = source.blocks()
    next(blocks)

    source.close()

    assert list(blocks) == []


def test_memory_does_not_grow_with_length(tmp_path: Path) -> None:
    def peak_bytes(seconds: float) -> int:
        path = written(tmp_path / "long.wav", tone(0.5, seconds, 8000), 8000)
        tracemalloc.start()
        for _ in FileSource(path).blocks():
            pass
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return peak

    assert peak_bytes(240.0) <= 1.2 * peak_bytes(24.0)


def unusable(folder: Path) -> dict[str, tuple[Path, str]]:
    """Files that cannot be used, and a word of the reason."""
    whole = written(folder / "whole.wav", tone(0.5, 0.1, 16000), 16000).read_bytes()
    made = {
        "folder": (folder, "folder"),
        "missing": (folder / "nothing.wav", "no such file"),
        "empty": (folder / "empty.wav", "empty"),
        "text": (folder / "text.wav", "not readable as audio"),
        "header cut short": (folder / "header.wav", "not readable as audio"),
        "no frames": (folder / "frames.wav", "no samples"),
        "headerless": (folder / "bare.raw", "headerless"),
        "rate of 1 Hz": (float_wav(folder / "slow.wav", [0.1, 0.2], 1), "sample rate 1 Hz"),
        "rate of 2 MHz": (float_wav(folder / "fast.wav", [0.1, 0.2], 2_000_000), "sample rate 2000000 Hz"),
        "not a number": (float_wav(folder / "nan.wav", [0.1, math.nan]), "not numbers"),
        "infinite": (float_wav(folder / "inf.wav", [0.1, -math.inf, math.inf]), "not numbers"),
        "not scaled": (float_wav(folder / "scale.wav", [100.0, -20000.0]), "times full scale"),
    }
    (folder / "empty.wav").write_bytes(b"")
    (folder / "text.wav").write_text("this is no sound, only its name says so\n" * 20)
    (folder / "header.wav").write_bytes(whole[:20])
    (folder / "frames.wav").write_bytes(whole[:44])
    (folder / "bare.raw").write_bytes(whole)
    return made


@pytest.mark.parametrize(
    "case",
    [
        "folder",
        "missing",
        "empty",
        "text",
        "header cut short",
        "no frames",
        "headerless",
        "rate of 1 Hz",
        "rate of 2 MHz",
        "not a number",
        "infinite",
        "not scaled",
    ],
)
def test_unusable_files_get_one_line_with_name_and_reason(tmp_path: Path, case: str) -> None:
    path, reason = unusable(tmp_path)[case]

    with pytest.raises(AudioError) as caught:
        read_whole(path)

    message = str(caught.value)
    assert message.startswith(str(path))
    assert reason in message
    assert "\n" not in message
    assert isinstance(caught.value, VoicelogError)


@pytest.mark.parametrize("name", ["cut.wav", "cut.flac", "cut.ogg", "cut.mp3", "cut.aiff"])
def test_of_a_file_that_breaks_off_the_readable_part_is_read_and_noted(tmp_path: Path, name: str) -> None:
    rustle = np.random.default_rng(1).normal(0.0, 0.02, 3 * 48000)  # so that packing makes many frames of it
    path = written(tmp_path / name, tone(0.5, 3.0, 48000) + rustle.astype(np.float32), 48000)
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])

    recording = read_whole(path)

    assert 0.5 * SAMPLE_RATE_HZ < len(recording.samples) < 2.0 * SAMPLE_RATE_HZ  # an Ogg page holds up to 1 s
    assert pitch_hz(recording.samples) == pytest.approx(TONE_HZ, abs=1.0)
    assert len(recording.notes) == 1
    assert "break" in recording.notes[0]


def test_a_wav_file_written_to_a_pipe_is_not_taken_for_a_broken_one(tmp_path: Path) -> None:
    """Programs that cannot go back to fill in the size leave the greatest one there."""
    path = float_wav(tmp_path / "piped.wav", tone(0.5, 0.5, SAMPLE_RATE_HZ))
    content = path.read_bytes()
    path.write_bytes(content[:40] + b"\xff\xff\xff\xff" + content[44:])

    recording = read_whole(path)

    assert recording.notes == ()
    assert len(recording.samples) == SAMPLE_RATE_HZ // 2


def test_one_utterance_may_only_be_so_long(tmp_path: Path) -> None:
    path = written(tmp_path / "long.wav", tone(0.5, 3.0, 8000), 8000)

    assert len(read_whole(path, max_seconds=3.0).samples) == pytest.approx(3 * SAMPLE_RATE_HZ, abs=1)
    with pytest.raises(AudioError, match=r"longer than the 2 s"):
        read_whole(path, max_seconds=2.0)
