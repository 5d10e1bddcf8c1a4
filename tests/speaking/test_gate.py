"""What of an utterance is trusted around the program's own speech, and when somebody talks over it."""

import itertools

import numpy as np
import pytest

from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.speaking.gate import PlaybackGate, Verdict

HANGOVER = 4800


def samples(seconds: float) -> int:
    return round(seconds * SAMPLE_RATE_HZ)


def sound(seconds: float, peak: float = 0.1) -> np.ndarray[tuple[int], np.dtype[np.float32]]:
    time_s = np.arange(samples(seconds)) / SAMPLE_RATE_HZ
    return (peak * np.sin(2 * np.pi * 300 * time_s)).astype(np.float32)


class Room:
    """Feeds a gate with time and sound; the counter starts at 0 at `time.monotonic()` of 50 s."""

    def __init__(self, gate: PlaybackGate) -> None:
        self.gate = gate
        self.now_s = 50.0

    def passes(self, seconds: float, peak: float = 0.1) -> None:
        whole = sound(seconds, peak)
        for start in range(0, len(whole), 512):
            piece = whole[start : start + 512]
            place = samples(self.now_s - 50.0)
            self.now_s += len(piece) / SAMPLE_RATE_HZ
            self.gate.heard(Block(piece, place, self.now_s))

    def speech(self, seconds: float, peak: float = 0.1) -> None:
        self.gate.started(self.now_s)
        self.passes(seconds, peak)
        self.gate.ended(self.now_s)


@pytest.fixture(name="room")
def _room() -> Room:
    """The program speaks from 10 to 12 s."""
    room = Room(PlaybackGate())
    room.passes(10.0)
    room.speech(2.0)
    room.passes(5.0)
    return room


@pytest.mark.parametrize(
    ("span_s", "overlaps", "trusted_from_s"),
    [
        ((8.0, 9.5), False, 8.0),
        ((10.5, 11.5), True, 11.5),
        ((10.1, 12.2), True, 12.2),
        ((11.5, 14.0), True, 12.3),
        ((9.0, 11.0), True, 11.0),
        ((12.2, 14.0), True, 12.3),
        ((12.3, 14.0), False, 12.3),
        ((13.0, 14.0), False, 13.0),
    ],
)
def test_trusted_from_the_end_of_own_speech_and_a_little_later(
    room: Room, span_s: tuple[float, float], overlaps: bool, trusted_from_s: float
) -> None:
    verdict = room.gate.judge(samples(span_s[0]), samples(span_s[1]))

    assert verdict == Verdict(overlaps, samples(trusted_from_s))


def test_nothing_is_trusted_while_it_speaks() -> None:
    room = Room(PlaybackGate())
    room.passes(1.0)
    room.gate.started(room.now_s)
    room.passes(3.0)

    assert room.gate.judge(samples(2.0), samples(3.5)) == Verdict(True, samples(3.5))
    assert room.gate.judge(samples(0.2), samples(0.9)) == Verdict(False, samples(0.2))


def test_times_between_blocks_are_placed_to_the_sample() -> None:
    room = Room(PlaybackGate(hangover_s=0.0))
    room.passes(1.0)
    room.gate.started(room.now_s + 0.010)
    room.passes(1.0)
    room.gate.ended(room.now_s + 0.010)
    room.passes(1.0)

    assert room.gate.judge(samples(1.5), samples(2.5)).trusted_from == samples(2.010)
    assert not room.gate.judge(samples(0.5), samples(1.010)).overlaps


def test_with_a_headset_every_word_counts() -> None:
    room = Room(PlaybackGate(own_speech_heard=False))
    room.passes(1.0)
    room.speech(2.0)

    assert room.gate.judge(samples(1.5), samples(2.5)) == Verdict(False, samples(1.5))


def test_several_read_backs_in_one_utterance() -> None:
    room = Room(PlaybackGate())
    for _ in range(3):
        room.passes(1.0)
        room.speech(1.0)
    room.passes(2.0)

    assert room.gate.judge(samples(0.5), samples(7.5)) == Verdict(True, samples(6.0) + HANGOVER)
    assert room.gate.judge(samples(2.5), samples(2.9)) == Verdict(False, samples(2.5))


def test_the_past_is_forgotten_after_minutes() -> None:
    room = Room(PlaybackGate())
    for _ in range(100):
        room.passes(4.0)
        room.speech(1.0)

    assert len(room.gate._spoken) <= 61


def test_an_end_without_a_start_is_nothing() -> None:
    gate = PlaybackGate()
    gate.ended(1.0)

    assert gate.judge(0, 100) == Verdict(False, 0)


def test_somebody_louder_than_the_own_speech_barges_in() -> None:
    room = Room(PlaybackGate())
    room.passes(1.0)
    room.speech(1.0, peak=0.05)  # learns how loud the own speech is here
    room.passes(1.0, peak=0.5)  # talk while the program is silent is no barge-in
    barged_in = []
    room.gate.started(room.now_s)
    for peak, seconds in ((0.05, 0.5), (0.5, 0.1), (0.05, 0.3), (0.5, 0.3)):
        room.passes(seconds, peak)
        barged_in.append(room.gate.barged_in)
    room.gate.ended(room.now_s)

    assert barged_in == [False, False, False, True]
    assert not room.gate.barged_in


def test_own_speech_alone_never_barges_in() -> None:
    room = Room(PlaybackGate())
    for peak in (0.05, 0.1, 0.06, 0.12):
        room.gate.started(room.now_s)
        room.passes(1.0, peak)
        assert not room.gate.barged_in
        room.gate.ended(room.now_s)


def test_one_talk_over_the_first_speech_does_not_deafen_for_good() -> None:
    """The first one cannot be noticed; the level learned from it is replaced by that of the next one."""
    room = Room(PlaybackGate())
    noticed = []
    for peaks in ((0.5,), (0.05,), (0.05, 0.5)):
        room.gate.started(room.now_s)
        for peak in peaks:
            room.passes(0.5, peak)
        noticed.append(room.gate.barged_in)
        room.gate.ended(room.now_s)

    assert noticed == [False, False, True]


def test_utterances_and_verdicts_agree_on_where_they_are(room: Room) -> None:
    """Every span is either free, or trusted from a sample within it."""
    for start_s, end_s in itertools.combinations(np.arange(9.0, 14.0, 0.25), 2):
        verdict = room.gate.judge(samples(start_s), samples(end_s))
        assert samples(start_s) <= verdict.trusted_from <= samples(end_s)
        assert verdict.overlaps or verdict.trusted_from == samples(start_s)
