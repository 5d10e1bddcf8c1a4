"""Levels of tones whose levels are known, and the two clean-ups."""

import math

import numpy as np
import pytest
from scipy import signal

from voicelog.hearing.levels import (
    FLOOR_DBFS,
    Samples,
    amplitude,
    clipped_fraction,
    dbfs,
    high_passed,
    measure,
    normalised,
)

RATE_HZ = 16000


def tone(peak: float, frequency_hz: float = 440.0, seconds: float = 1.0) -> Samples:
    time_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    return (peak * np.sin(2 * np.pi * frequency_hz * time_s)).astype(np.float32)


@pytest.mark.parametrize("peak", [1.0, 0.5, 0.1, 0.001])
def test_a_sine_has_an_rms_3_db_below_its_peak(peak: float) -> None:
    level = measure(tone(peak))

    assert level.peak_dbfs == pytest.approx(20 * math.log10(peak), abs=0.02)
    assert level.rms_dbfs == pytest.approx(level.peak_dbfs - 20 * math.log10(math.sqrt(2)), abs=0.02)


@pytest.mark.parametrize("count", [0, 100])
def test_silence_reads_the_floor(count: int) -> None:
    level = measure(np.zeros(count, np.float32))

    assert (level.rms_dbfs, level.peak_dbfs) == (FLOOR_DBFS, FLOOR_DBFS)


def test_decibels_and_back() -> None:
    assert dbfs(amplitude(-37.5)) == pytest.approx(-37.5)


def test_clipping_is_the_share_of_time_that_a_sine_is_beyond_full_scale() -> None:
    """|2 sin x| >= 0.99 for 1 - (2/pi) asin(0.99/2) of the time."""
    clipped = np.clip(tone(2.0), -1.0, 1.0)

    assert clipped_fraction(clipped) == pytest.approx(1 - 2 / math.pi * math.asin(0.495), abs=0.005)
    assert clipped_fraction(tone(0.9)) == 0.0
    assert clipped_fraction(np.zeros(0, np.float32)) == 0.0


@pytest.mark.parametrize("frequency_hz", [20.0, 50.0, 80.0, 160.0, 1000.0])
def test_high_pass_has_the_gain_of_a_butterworth_filter(frequency_hz: float) -> None:
    """The oracle is scipy's analogue Butterworth design, which shares no code with ours."""
    _, gain = signal.freqs(*signal.butter(2, 80.0, "high", analog=True), worN=[frequency_hz])
    before = tone(0.5, frequency_hz)

    after = high_passed(before, 80.0, RATE_HZ)

    middle = slice(RATE_HZ // 4, -RATE_HZ // 4)  # away from the mirrored ends
    change_db = measure(after[middle]).rms_dbfs - measure(before[middle]).rms_dbfs
    assert change_db == pytest.approx(20 * math.log10(abs(gain[0])), abs=0.1)


def test_high_pass_takes_an_offset_away_and_keeps_the_length() -> None:
    after = high_passed(tone(0.1, 1000.0) + np.float32(0.3), 80.0, RATE_HZ)

    assert after.shape == (RATE_HZ,)
    assert abs(float(np.mean(after))) < 1e-3
    middle = after[1000:-1000]  # the mirrored ends ring a little
    assert measure(middle).peak_dbfs == pytest.approx(-20.0, abs=0.2)
    assert high_passed(np.zeros(0, np.float32), 80.0, RATE_HZ).size == 0


def test_normalising_reaches_the_wanted_rms() -> None:
    assert measure(normalised(tone(0.01), target_rms_dbfs=-23.0)).rms_dbfs == pytest.approx(-23.0, abs=0.01)


def test_normalising_leaves_room_for_the_peak() -> None:
    click = tone(0.01)
    click[100] = 0.5

    after = normalised(click, target_rms_dbfs=-20.0, ceiling_dbfs=-1.0)

    assert measure(after).peak_dbfs == pytest.approx(-1.0)


def test_normalising_does_not_blow_up_near_silence() -> None:
    faint = tone(1e-5)

    assert measure(normalised(faint, max_gain_db=30.0)).rms_dbfs == pytest.approx(
        measure(faint).rms_dbfs + 30.0, abs=0.01
    )
    assert not normalised(np.zeros(10, np.float32)).any()
