"""What `hear` makes of voices that were not used for tuning, and of consulting-room talk. Prints its table.

One clip in six by default, all of them with `-m sweep`.
"""

from collections import Counter

import pytest

from tests.corpora.voices import by_name
from tests.hearing.packed import HeardClip, meant
from voicelog.measuring.counting import exam_asks
from voicelog.measuring.manifests import EXAM_RULES


@pytest.fixture(scope="session", name="table")
def _table(packed: list[HeardClip]) -> dict[str, Counter[str]]:
    found: dict[str, Counter[str]] = {}
    for each in packed:
        truth = meant(each.clip.transcript)
        if each.clip.set_name == "readings" and truth is not None:
            found.setdefault(each.clip.speaker, Counter())[result(each)] += 1
    return found


def result(each: HeardClip) -> str:
    """The outcome; of what was accepted, whether it is what was said. What the exam asks about all the same is asked."""
    if each.outcome != "accepted":
        return each.outcome
    if each.meanings == meant(each.clip.transcript):
        return "accepted right"
    return "asked" if exam_asks(EXAM_RULES, each.meanings) else "accepted wrong"


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

    assert natural.total() >= 36
    assert natural["accepted right"] / natural.total() >= 0.97


def test_no_voice_has_a_wrong_value_entered_in_silence(table: dict[str, Counter[str]]) -> None:
    assert {
        speaker: counts["accepted wrong"] for speaker, counts in table.items() if counts["accepted wrong"]
    } == {}


def test_no_sentence_of_other_talk_is_accepted(
    packed: list[HeardClip], capsys: pytest.CaptureFixture[str]
) -> None:
    outcomes = Counter(each.outcome for each in packed if each.clip.set_name == "talk")
    with capsys.disabled():
        print(f"\nother talk, {outcomes.total()} sentences: {dict(outcomes)}")

    assert outcomes.total() >= 16
    assert outcomes["accepted"] == 0


def test_findings_of_natural_test_voices(packed: list[HeardClip], capsys: pytest.CaptureFixture[str]) -> None:
    """Acuity, refined results, drops: up to twelve phrases each of three voices; none may be entered wrongly."""
    findings = [each for each in packed if each.clip.set_name == "findings"]
    found = Counter(result(each) for each in findings)
    with capsys.disabled():
        print(f"\nfindings, {found.total()} phrases: {dict(found)}")

    assert all(meant(each.clip.transcript) is not None for each in findings)
    assert {by_name(each.clip.speaker).split for each in findings} == {"test"}
    assert found["accepted wrong"] == 0
    # Less than is asked of readings: the words are rarer, and the network knows them less.
    assert found.total() >= 6
    assert found["accepted right"] >= 0.75 * found.total()
