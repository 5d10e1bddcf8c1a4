"""What test voices say of findings: acuity, refined results, drops. Nothing may be entered wrongly."""

from collections import Counter

import pytest

from tests.corpora.voices import by_name
from tests.english import ENGLISH
from tests.hearing.test_recognition import clips, meant
from voicelog.hearing.decision import decide
from voicelog.hearing.engines.two import TwoListeners
from voicelog.hearing.hear_one import hear_samples


def test_findings_of_natural_test_voices(
    two_listeners: TwoListeners, capsys: pytest.CaptureFixture[str]
) -> None:
    """Twelve phrases each of three voices that served no tuning; what is not understood is asked about or left out."""
    found: Counter[str] = Counter()
    voices = set()
    for speaker, transcript, samples in clips("findings"):
        truth = meant(transcript)
        assert truth is not None, transcript
        hearing = hear_samples(two_listeners, samples, "entry")
        outcome = decide(hearing, ENGLISH)
        right = bool(hearing.hypotheses) and hearing.hypotheses[0].meanings == (truth,)
        found[outcome if outcome != "accepted" else "accepted right" if right else "accepted wrong"] += 1
        voices.add(by_name(speaker).split)
    with capsys.disabled():
        print(f"\nfindings, {found.total()} phrases: {dict(found)}")

    assert voices == {"test"}
    assert found["accepted wrong"] == 0
    # Less than is asked of readings (test_recognition.py): the words are rarer, and the network knows them less.
    assert found["accepted right"] >= 0.8 * found.total()
