"""The four tones: told apart by rhythm, short, soft at both ends, as loud as asked for."""

import itertools

import numpy as np
import numpy.typing as npt
import pytest

from voicelog.hearing.endpointing import utterances
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.speaking.errors import SpeakingError
from voicelog.speaking.tones import Signal, tone

RATE_HZ = 48000
STEP = 480  # 10 ms


def rhythm(signal: Signal) -> list[tuple[int, int]]:
    """Start and length, in steps of 10 ms, of the pulses, measured in the sound."""
    sound = np.abs(tone(signal, 1.0, RATE_HZ))
    steps = np.array([np.max(sound[i : i + STEP]) for i in range(0, len(sound), STEP)])
    loud = np.concatenate([[False], steps > 0.2 * np.max(steps), [False]])
    edges = np.flatnonzero(loud[1:] != loud[:-1])
    return [(int(a), int(b - a)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def test_no_two_have_the_same_rhythm() -> None:
    """Any two differ in the number of pulses, or in the length of the first one by half and more."""
    for one, other in itertools.combinations(Signal, 2):
        a, b = rhythm(one), rhythm(other)
        longer, shorter = max(a[0][1], b[0][1]), min(a[0][1], b[0][1])
        assert len(a) != len(b) or longer >= 1.5 * shorter, (one, other)


def test_the_pulses_are_those_of_the_pattern() -> None:
    assert [len(rhythm(signal)) for signal in Signal] == [1, 2, 1, 3]


@pytest.mark.parametrize("signal", Signal)
def test_short_and_soft_at_both_ends(signal: Signal) -> None:
    sound = tone(signal, 0.8, RATE_HZ)

    largest_step: npt.NDArray[np.float32] = np.abs(np.diff(sound, prepend=0.0, append=0.0))
    assert sound.dtype == np.float32
    assert len(sound) <= 0.35 * RATE_HZ
    assert abs(float(sound[0])) < 0.001
    assert abs(float(sound[-1])) < 0.001
    assert abs(float(np.mean(sound))) < 0.01
    # A sine of the highest pitch and its octave changes by 2 pi f / rate of its peak in a sample; a click by more.
    assert float(np.max(largest_step)) < 0.8 * 2 * np.pi * 988 * 1.5 / RATE_HZ


@pytest.mark.parametrize("signal", Signal)
@pytest.mark.parametrize("volume", [0.0, 0.1, 1.0])
def test_volume_is_the_peak(signal: Signal, volume: float) -> None:
    share = 0.5 if signal is Signal.IGNORED_BUT_CLOSE else 1.0

    assert float(np.max(np.abs(tone(signal, volume, RATE_HZ)))) == pytest.approx(volume * share, abs=1e-6)


@pytest.mark.parametrize("volume", [-0.1, 1.1, float("nan")])
def test_volume_outside_0_to_1_is_refused(volume: float) -> None:
    with pytest.raises(SpeakingError, match="volume"):
        tone(Signal.ACCEPTED, volume, RATE_HZ)


@pytest.mark.parametrize("noise_rms", [0.0002, 0.003])
@pytest.mark.parametrize("volume", [0.05, 0.5, 1.0])
def test_tones_are_no_speech_to_the_end_pointer(volume: float, noise_rms: float) -> None:
    """So tones need no gate (speaking/gate.py)."""
    sound = np.concatenate([np.pad(tone(signal, volume, SAMPLE_RATE_HZ), 12000) for signal in Signal])
    sound += np.random.default_rng(6).normal(0, noise_rms, len(sound)).astype(np.float32)

    assert list(utterances([Block(sound, 0, 0.0)])) == []
