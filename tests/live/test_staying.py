"""A recording that the exam outlasts."""

import threading
from itertools import pairwise
from pathlib import Path

from voicelog.hearing.endpointing import utterances
from voicelog.hearing.sources import SAMPLE_RATE_HZ, FileSource
from voicelog.live.staying import StayingSource

TWO_PHRASES = Path(__file__).parents[1] / "hearing" / "audio" / "two_phrases.flac"


def test_the_recording_comes_whole_and_silence_follows_until_it_is_closed() -> None:
    expected = list(FileSource(TWO_PHRASES).blocks())
    source = StayingSource(FileSource(TWO_PHRASES))
    found = []
    for block in source.blocks():
        found.append(block)
        if block.end_sample >= expected[-1].end_sample + 1.2 * SAMPLE_RATE_HZ:
            source.close()

    assert len(found) > len(expected)
    assert all((a.samples == b.samples).all() for a, b in zip(found, expected, strict=False))
    assert all(not block.samples.any() for block in found[len(expected) :])
    assert all(a.end_sample == b.start_sample for a, b in pairwise(found))


def test_the_last_phrase_ends_without_a_wait() -> None:
    """The silence that ends it comes at once, so it is cut before anybody closes the source."""
    source = StayingSource(FileSource(TWO_PHRASES))
    cut = []
    both = threading.Event()

    def listen() -> None:
        for utterance in utterances(source.blocks()):
            cut.append(utterance)
            if len(cut) == 2:
                both.set()

    worker = threading.Thread(target=listen)
    worker.start()
    assert both.wait(10)
    source.close()
    worker.join(10)
    assert len(cut) == 2
