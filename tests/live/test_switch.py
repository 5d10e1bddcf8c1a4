"""Push-to-talk: what the keys open, and which sound counts."""

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest

from tests.live.scripted import Recorder, ScriptedSource, block
from voicelog.hearing.endpointing import Endpointer
from voicelog.hearing.levels import Samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.live.listening import Listening
from voicelog.live.switch import Gated, Pedal, Switch


class Clock:
    now_s = 100.0

    def __call__(self) -> float:
        return self.now_s


def opened_at(pedal: Pedal, presses_s: list[float], seen_s: list[float]) -> list[bool]:
    """Whether the switch is open at each time of `seen_s`, with presses at `presses_s`."""
    clock = Clock()
    switch = Switch(pedal, clock)
    found = []
    for at_s, is_press in sorted([(t, True) for t in presses_s] + [(t, False) for t in seen_s]):
        clock.now_s = at_s
        if is_press:
            switch.press()
        else:
            found.append(switch.is_open)
    return found


def test_each_press_toggles_and_the_repetition_of_a_key_does_not() -> None:
    presses_s = [1.0, 1.03, 1.06, 5.0]

    assert opened_at("toggle", presses_s, [0.5, 1.01, 1.2, 4.9, 5.1]) == [False, True, True, True, False]


def test_a_pedal_that_is_held_listens_until_its_repetition_ends() -> None:
    held_s = [1.0, *(1.5 + 0.033 * i for i in range(30))]

    assert opened_at("hold", held_s, [0.9, 1.1, 1.45, 2.4, 3.0, 3.2]) == [
        False,
        True,
        True,
        True,
        True,
        False,
    ]


def passed(open_from: int, open_to: int, count: int) -> list[Block]:
    """What gets through of `count` blocks when a key is pressed before the blocks `open_from` and `open_to`."""
    switch = Switch("toggle", clock := Clock())
    gated, found = Gated(switch), list[Block]()
    for i in range(count):
        clock.now_s += 0.5
        if i in (open_from, open_to):
            switch.press()
        found += gated.passed(block(i))
    return found


def test_what_is_shortly_before_the_press_and_after_the_release_counts() -> None:
    found = passed(100, 200, 400)
    sound = [each for each in found if each.samples.size]

    assert sound[0].start_sample == pytest.approx(100 * 512 - 0.75 * SAMPLE_RATE_HZ, abs=512)
    assert sound[-1].end_sample == pytest.approx(200 * 512 + 0.5 * SAMPLE_RATE_HZ, abs=512)
    assert all(a.end_sample == b.start_sample for a, b in pairwise(sound))
    assert [(each.after_gap, each.start_sample) for each in found if not each.samples.size] == [
        (True, sound[-1].end_sample)
    ]


def test_nothing_counts_while_it_is_closed_and_little_is_kept() -> None:
    gated = Gated(Switch())

    assert [each for i in range(1000) for each in gated.passed(block(i))] == []
    assert len(gated._waiting) <= 25


class Voiced:
    """A detector that takes every sound above silence for speech."""

    def probability(self, frame: Samples) -> float:
        return 1.0 if float(np.max(frame)) > 0.1 else 0.0

    def reset(self) -> None:
        """Nothing is remembered."""


@pytest.mark.parametrize(
    ("speech", "whole"),
    [((110, 150), True), ((90, 150), True), ((70, 150), False), ((150, 205), True), ((150, 230), False)],
    ids=["inside", "a little before the press", "long before", "until the release", "on after it"],
)
def test_speech_that_the_switch_cuts_is_not_whole(speech: tuple[int, int], whole: bool) -> None:
    switch = Switch("toggle", clock := Clock())
    recorder = Recorder()

    def blocks() -> Iterator[Block]:
        for i in range(400):
            clock.now_s += 0.5
            if i in (100, 200):
                switch.press()
            level = 0.5 if speech[0] <= i < speech[1] else 0.0
            yield Block(np.full(512, level, np.float32), 512 * i, 0.0)

    listening = Listening(
        ScriptedSource(blocks()),
        recorder,
        switch=switch,
        endpointer=Endpointer(detector=Voiced()),
    )
    listening.start()
    assert listening.wait(20.0)

    assert [one.whole for _, one in recorder.taken] == [whole]
