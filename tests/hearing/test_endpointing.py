"""Cutting a stream into utterances.

The rules are tested with a detector that takes any loud frame for speech, so that each boundary is known
to the sample; what the neural detector finds is tested on recordings in test_endpointing_recordings.py.
"""

import dataclasses
import itertools
import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from voicelog.hearing.endpointing import Endpointer, EndpointingSettings, utterances
from voicelog.hearing.errors import HearingError
from voicelog.hearing.levels import Samples
from voicelog.hearing.silero import FRAME_SAMPLES
from voicelog.hearing.sources import SAMPLE_RATE_HZ, Block
from voicelog.hearing.utterance import Utterance

PADDING = 4000  # 0.25 s


class LoudnessDetector:
    """Takes a frame for speech when its rms is that of `speech` below."""

    def probability(self, frame: Samples) -> float:
        rms = math.sqrt(float(np.mean(np.square(frame))))
        return 1.0 if rms > 0.1 else 0.4 if rms > 0.03 else 0.0

    def reset(self) -> None:
        """Remembers nothing."""


def speech(frames: int, peak: float = 0.5) -> Samples:
    time_s = np.arange(frames * FRAME_SAMPLES) / SAMPLE_RATE_HZ
    return (peak * np.sin(2 * np.pi * 251.3 * time_s)).astype(np.float32)


def pause(frames: int) -> Samples:
    return np.random.default_rng(frames).normal(0, 0.001, frames * FRAME_SAMPLES).astype(np.float32)


def joined(*pieces: Samples) -> Samples:
    return np.concatenate(pieces)


def blocks(sound: Samples, size: int = 700, start_sample: int = 0, after_gap: bool = False) -> list[Block]:
    cut = [sound[i : i + size] for i in range(0, len(sound), size)]
    return [
        Block(
            piece,
            start_sample + i * size,
            (start_sample + i * size + len(piece)) / SAMPLE_RATE_HZ,
            after_gap and not i,
        )
        for i, piece in enumerate(cut)
    ]


def endpointer(**changes: float) -> Endpointer:
    settings = dataclasses.replace(EndpointingSettings(), **changes)
    return Endpointer(settings, LoudnessDetector())


def found(sound: Samples, **changes: float) -> list[Utterance]:
    return list(utterances(blocks(sound), endpointer(**changes)))


def test_an_utterance_has_its_speech_its_padding_and_its_levels() -> None:
    sound = joined(pause(20), speech(10), pause(30))

    (one,) = found(sound)

    assert one.span == (20 * FRAME_SAMPLES, 30 * FRAME_SAMPLES)
    assert (one.pad_before, one.pad_after) == (PADDING, PADDING)
    assert np.array_equal(one.samples, sound[one.padded_start_sample : one.padded_end_sample])
    assert (one.beginning, one.ending, one.whole, one.index) == ("pause", "pause", True, 0)
    assert one.peak_dbfs == pytest.approx(20 * math.log10(0.5), abs=0.05)
    assert one.rms_dbfs == pytest.approx(20 * math.log10(0.5 / math.sqrt(2)), abs=0.05)
    assert one.clipped_fraction == 0.0
    assert one.end_arrived_s == pytest.approx(one.end_sample / SAMPLE_RATE_HZ, abs=700 / SAMPLE_RATE_HZ)


def test_clipping_is_told() -> None:
    (one,) = found(joined(pause(20), np.clip(speech(10, peak=5.0), -1, 1), pause(30)))

    clipped_speech = 1 - 2 / math.pi * math.asin(0.99 / 5)
    assert one.clipped_fraction == pytest.approx(
        clipped_speech * 10 * FRAME_SAMPLES / len(one.samples), abs=0.01
    )


@pytest.mark.parametrize(("pause_frames", "count"), [(9, 1), (15, 1), (16, 2), (25, 2)])
def test_a_pause_of_half_a_second_ends_an_utterance_and_a_shorter_one_does_not(
    pause_frames: int, count: int
) -> None:
    sound = joined(pause(20), speech(10), pause(pause_frames), speech(10), pause(30))

    assert len(found(sound)) == count


def test_faint_frames_keep_speech_going_but_do_not_start_it() -> None:
    faint = speech(40, peak=0.06)

    assert found(joined(pause(20), faint, pause(30))) == []
    (one,) = found(joined(pause(20), speech(5), faint, pause(30)))
    assert one.span == (20 * FRAME_SAMPLES, 65 * FRAME_SAMPLES)


@pytest.mark.parametrize(("frames", "count"), [(1, 0), (2, 1), (3, 1)])
def test_a_click_is_nothing_and_the_shortest_word_is_something(frames: int, count: int) -> None:
    assert len(found(joined(pause(20), speech(frames), pause(30)))) == count


def test_speech_at_the_very_start_and_at_the_very_end_is_found() -> None:
    sound = joined(speech(5), pause(30), speech(5)[:-300])

    first, last = found(sound)

    assert (first.start_sample, first.pad_before, first.beginning) == (0, 0, "stream")
    assert (last.end_sample, last.pad_after, last.ending) == (len(sound), 0, "stream")
    assert first.whole
    assert last.whole


def test_the_end_comes_without_further_speech_only_after_the_pause() -> None:
    ears = endpointer()
    assert [ears.feed(block) for block in blocks(joined(pause(20), speech(10), pause(10)))].count([]) > 0
    assert ears.in_speech

    (one,) = ears.flush()

    assert one.ending == "pause"
    assert not ears.in_speech


def test_an_utterance_that_is_too_long_is_cut_in_its_longest_pause() -> None:
    sound = joined(
        pause(20), speech(50), pause(3), speech(30), pause(9), speech(30), pause(2), speech(60), pause(30)
    )

    first, second = found(sound, max_utterance_s=5.0)

    assert first.span == (20 * FRAME_SAMPLES, 103 * FRAME_SAMPLES)
    assert second.span == (112 * FRAME_SAMPLES, 204 * FRAME_SAMPLES)
    assert (first.ending, second.beginning) == ("limit", "limit")
    assert not first.whole
    assert not second.whole


def test_speech_without_any_pause_is_cut_where_it_is_quietest() -> None:
    sound = joined(pause(20), speech(90), speech(3, peak=0.2), speech(90), pause(30))

    first, second = found(sound, max_utterance_s=4.0)

    assert 110 * FRAME_SAMPLES < first.end_sample < 113 * FRAME_SAMPLES
    assert second.start_sample == first.end_sample
    assert (first.pad_after, second.pad_before) == (0, 0)


def test_a_gap_ends_the_utterance_at_once_and_marks_both_sides() -> None:
    ears = endpointer()
    before = [one for block in blocks(joined(pause(20), speech(10))) for one in ears.feed(block)]
    lost = ears.feed(Block(np.zeros(0, np.float32), 30 * FRAME_SAMPLES, 1.0, after_gap=True))
    later = 100_000
    rest = blocks(joined(speech(10), pause(30), speech(5), pause(30)), start_sample=later, after_gap=True)
    after = [one for block in rest for one in ears.feed(block)]

    assert before == []
    assert [(one.span, one.ending, one.whole) for one in lost] == [
        ((20 * FRAME_SAMPLES, 30 * FRAME_SAMPLES), "gap", False)
    ]
    assert [(one.start_sample, one.beginning, one.whole) for one in after] == [
        (later, "gap", False),
        (later + 40 * FRAME_SAMPLES, "pause", True),
    ]
    assert [one.index for one in lost + after] == [0, 1, 2]


def test_a_jump_of_the_counter_is_a_gap_too() -> None:
    ears = endpointer()
    for block in blocks(joined(pause(20), speech(10))):
        ears.feed(block)

    (one,) = ears.feed(Block(pause(1), 200_000, 20.0))

    assert (one.ending, one.whole) == ("gap", False)


def test_the_draft_is_what_will_be_finished_if_nobody_goes_on() -> None:
    ears = endpointer()
    drafts = []
    finished = []
    for block in blocks(joined(pause(20), speech(10), pause(30)), size=FRAME_SAMPLES):
        finished += ears.feed(block)
        draft = ears.draft()
        if draft is not None:
            drafts.append((draft, block.end_sample))

    ((draft, at_sample),) = drafts
    assert at_sample == 40 * FRAME_SAMPLES  # 0.32 s after the speech, the first frame beyond 0.3 s
    assert (draft.index, draft.span) == (finished[0].index, finished[0].span)
    assert np.array_equal(draft.samples, finished[0].samples)


def test_a_draft_is_void_when_somebody_goes_on_and_another_one_comes() -> None:
    ears = endpointer()
    drafts = []
    finished = []
    for block in blocks(joined(pause(20), speech(10), pause(12), speech(4), pause(30)), size=FRAME_SAMPLES):
        finished += ears.feed(block)
        drafts += [draft for draft in [ears.draft()] if draft is not None]

    assert [draft.span for draft in drafts] == [
        (20 * FRAME_SAMPLES, 30 * FRAME_SAMPLES),
        (20 * FRAME_SAMPLES, 46 * FRAME_SAMPLES),
    ]
    assert [one.span for one in finished] == [drafts[1].span]


@pytest.mark.parametrize(
    ("wait_s", "index", "ends_after_s"),
    [
        (0.4, 0, 0.416),  # the first frame beyond it
        (1.2, 0, 1.216),
        (0.1, 0, 0.352),  # not before the frame behind the draft
        (0.4, 1, 0.512),  # a draft of another utterance: the usual pause
    ],
)
def test_the_pause_that_ends_an_utterance_can_be_told(wait_s: float, index: int, ends_after_s: float) -> None:
    ears = endpointer()
    sound = joined(pause(20), speech(10), pause(60))
    for block in blocks(sound, size=FRAME_SAMPLES):
        finished = ears.feed(block)
        if finished:
            break
        draft = ears.draft()
        if draft is not None:
            ears.wait(dataclasses.replace(draft, index=index), wait_s)

    (one,) = finished
    assert one.span == (20 * FRAME_SAMPLES, 30 * FRAME_SAMPLES)
    assert block.end_sample - one.end_sample == pytest.approx(ends_after_s * SAMPLE_RATE_HZ)


def test_what_is_said_in_a_longer_pause_is_the_same_utterance_and_ends_with_the_usual_one() -> None:
    ears = endpointer()
    finished = []
    for block in blocks(joined(pause(20), speech(10), pause(30), speech(10), pause(60)), size=FRAME_SAMPLES):
        finished += [(one.span, block.end_sample) for one in ears.feed(block)]
        draft = ears.draft()
        if draft is not None and draft.end_sample == 30 * FRAME_SAMPLES:
            ears.wait(draft, 1.2)

    assert finished == [((20 * FRAME_SAMPLES, 70 * FRAME_SAMPLES), 86 * FRAME_SAMPLES)]


@settings(deadline=None, max_examples=40)
@given(
    pattern=st.lists(st.tuples(st.integers(1, 60), st.integers(1, 40)), min_size=1, max_size=6),
    sizes=st.lists(st.integers(100, 3000), min_size=1, max_size=5),
    tail=st.integers(0, FRAME_SAMPLES),
)
def test_whatever_is_said_and_however_it_arrives(
    pattern: Sequence[tuple[int, int]], sizes: Sequence[int], tail: int
) -> None:
    """Utterances are pieces of the sound, in order, disjoint; they hold all speech of 64 ms and more; and
    it makes no difference in which blocks the sound came."""
    sound = joined(*(piece for on, off in pattern for piece in (speech(on), pause(off))), pause(1)[:tail])

    whole = found(sound, max_utterance_s=2.0)
    again = []
    ears = endpointer(max_utterance_s=2.0)
    start = 0
    for size in itertools.cycle(sizes):
        again += ears.feed(Block(sound[start : start + size], start, 0.0))
        start += size
        if start >= len(sound):
            break
    again += ears.flush()

    assert [one.span for one in again] == [one.span for one in whole]
    for one in whole:
        assert np.array_equal(one.samples, sound[one.padded_start_sample : one.padded_end_sample])
    for before, after in itertools.pairwise(whole):
        assert before.padded_end_sample <= after.padded_start_sample
    inside = np.zeros(len(sound), bool)
    for one in whole:
        inside[one.start_sample : one.end_sample] = True
    position = 0
    for on, off in pattern:
        if on >= 2:
            assert np.mean(inside[position : position + on * FRAME_SAMPLES]) >= (on - 1) / on
        position += (on + off) * FRAME_SAMPLES


@pytest.mark.parametrize(
    "changes",
    [
        {"speech_threshold": 1.0},
        {"pause_threshold": 0.6},
        {"pause_threshold": 0.0},
        {"padding_after_s": 0.4},
        {"padding_s": 0.6},
        {"draft_silence_s": 0.6},
        {"padding_s": -0.1},
        {"min_speech_s": 0.6},
        {"trailing_silence_s": 8.0},
        {"max_utterance_s": 0.9, "trailing_silence_s": 0.4},
    ],
)
def test_settings_that_contradict_each_other_are_refused(changes: dict[str, float]) -> None:
    with pytest.raises(HearingError):
        EndpointingSettings(**changes)


def own_voice_and_answer(gap_frames: int) -> Utterance:
    """20 frames of one voice, a short pause, 15 frames of another: one utterance."""
    (one,) = found(joined(pause(20), speech(20), pause(gap_frames), speech(15), pause(30)))
    return one


def test_what_begins_after_a_place_is_whole() -> None:
    both = own_voice_and_answer(gap_frames=12)

    answer = both.after(45 * FRAME_SAMPLES)

    assert answer is not None
    assert answer.span == (52 * FRAME_SAMPLES, 67 * FRAME_SAMPLES)
    assert answer.padded_start_sample == 45 * FRAME_SAMPLES
    assert answer.whole
    assert np.array_equal(
        answer.samples, both.samples[answer.padded_start_sample - both.padded_start_sample :]
    )
    assert answer.rms_dbfs == pytest.approx(20 * math.log10(0.5 / math.sqrt(2)), abs=0.05)


def test_what_straddles_a_place_is_kept_and_marked() -> None:
    rest = own_voice_and_answer(gap_frames=12).after(55 * FRAME_SAMPLES)

    assert rest is not None
    assert rest.span == (55 * FRAME_SAMPLES, 67 * FRAME_SAMPLES)
    assert not rest.whole


def test_an_echo_of_what_was_before_is_nothing() -> None:
    both = own_voice_and_answer(gap_frames=12)

    assert both.after(64 * FRAME_SAMPLES) is None
    assert both.after(both.end_sample) is None
    assert both.after(both.start_sample) is both
