"""What `hear` makes of voices that were not used for tuning, and of consulting-room talk. Prints its table.

The recordings in tests/audio are synthetic speech by freely licensed voices (tests/corpora/README.md), split into
tuning and test voices there; only test voices are here. Natural voices are neural networks trained on recordings;
the others (formant, diphone, small statistical) are old synthesisers, much harder to understand than people are, kept
for what they show: what is not understood must be asked about or left out, never entered wrongly.
"""

import csv
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import soundfile
import soxr

from tests.corpora.voices import by_name
from tests.english import ENGLISH, load
from voicelog.hearing.decision import decide
from voicelog.hearing.engines.protocol import Samples
from voicelog.hearing.engines.two import TwoListeners
from voicelog.hearing.hear_one import hear_samples
from voicelog.hearing.sources import SAMPLE_RATE_HZ
from voicelog.phrases.lines import LineReader, NotAPhraseError
from voicelog.phrases.meanings import Meaning

AUDIO = Path(__file__).parent.parent / "audio"


@cache
def recording(name: str) -> Samples:
    """One packed recording at 16 kHz."""
    samples, rate_hz = soundfile.read(AUDIO / name, dtype="float32")
    return np.asarray(soxr.resample(samples, rate_hz, SAMPLE_RATE_HZ), np.float32)


def clips(set_name: str) -> Iterator[tuple[str, str, Samples]]:
    """Speaker, transcript and sound of every clip of a set."""
    with (AUDIO / "index.tsv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file, delimiter="\t"):
            if row["set"] == set_name:
                start, end = (round(float(row[edge]) * SAMPLE_RATE_HZ) for edge in ("start_s", "end_s"))
                yield row["speaker"], row["transcript"], recording(row["file"])[start:end]


def meant(transcript: str) -> Meaning | None:
    """The meaning of what was spoken; None where it is no phrase of the grammar."""
    try:
        ((meaning,),) = LineReader(load()).understand(transcript).readings
    except NotAPhraseError:
        return None
    return meaning


@pytest.fixture(scope="module", name="table")
def _table(two_listeners: TwoListeners) -> dict[str, Counter[str]]:
    found: dict[str, Counter[str]] = {}
    for speaker, transcript, samples in clips("seed"):
        truth = meant(transcript)
        if truth is None:
            continue
        hearing = hear_samples(two_listeners, samples, "entry")
        outcome = decide(hearing, ENGLISH)
        right = bool(hearing.hypotheses) and hearing.hypotheses[0].meanings == (truth,)
        outcome_name = ("accepted right" if right else "accepted wrong") if outcome == "accepted" else outcome
        found.setdefault(speaker, Counter())[outcome_name] += 1
    return found


def test_test_voices_are_no_tuning_voices(table: dict[str, Counter[str]]) -> None:
    assert {by_name(speaker).split for speaker in table} == {"test"}
    assert len({by_name(speaker).speaker for speaker in table if by_name(speaker).natural}) >= 6


def test_natural_voices_are_accepted(
    table: dict[str, Counter[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    columns = ("accepted right", "asked", "ignored", "accepted wrong")
    with capsys.disabled():
        print(f"\n{'voice':24}" + "".join(f"{column:>16}" for column in columns))
        for speaker, counts in table.items():
            kind = "natural" if by_name(speaker).natural else "old"
            print(
                f"{speaker + ' (' + kind + ')':32}" + "".join(f"{counts[column]:>14}" for column in columns)
            )
    natural = sum((counts for speaker, counts in table.items() if by_name(speaker).natural), Counter[str]())

    assert natural.total() >= 200
    assert natural["accepted right"] / natural.total() >= 0.97


def test_no_voice_has_a_wrong_value_accepted(table: dict[str, Counter[str]]) -> None:
    assert {
        speaker: counts["accepted wrong"] for speaker, counts in table.items() if counts["accepted wrong"]
    } == {}


def test_no_sentence_of_other_talk_is_accepted(
    two_listeners: TwoListeners, capsys: pytest.CaptureFixture[str]
) -> None:
    outcomes = Counter(
        decide(hear_samples(two_listeners, samples, "entry"), ENGLISH) for _, _, samples in clips("talk")
    )
    with capsys.disabled():
        print(f"\nother talk, {outcomes.total()} sentences: {dict(outcomes)}")

    assert outcomes.total() >= 100
    assert outcomes["accepted"] == 0
