"""What counts as right, asked, silently wrong and ignored, and what as entered from other talk."""

import pytest

from tests.english import load
from tests.measuring.made_up import LIMITS, heard, phrase, row, talk
from voicelog.hearing.engines.protocol import Hearing
from voicelog.measuring.counting import Group, counted, phrase_result, talk_result
from voicelog.measuring.listeners import Judged, judge_of
from voicelog.measuring.manifests import EXAM_RULES

PLUS_TWO = "streak vertical neutral at plus two"
MINUS_TWO = "streak vertical neutral at minus two"
UNSIGNED = "streak vertical neutral at two"
BEYOND = "sphere plus two cylinder minus one axis three hundred and ten"


@pytest.mark.parametrize(
    ("said", "hearing", "result"),
    [
        (PLUS_TWO, heard((PLUS_TWO, -1.0)), "right"),
        (PLUS_TWO, heard((MINUS_TWO, -1.0)), "wrong"),
        (PLUS_TWO, heard((PLUS_TWO, -7.0)), "asked"),
        (PLUS_TWO, heard((MINUS_TWO, -7.0)), "asked"),
        (PLUS_TWO, heard((PLUS_TWO, -20.0)), "ignored"),
        (PLUS_TWO, heard(), "ignored"),
        # An exam asks for the sign whatever the recogniser thinks of it; said without one, that is as it should be.
        (PLUS_TWO, heard((UNSIGNED, -1.0)), "asked"),
        (UNSIGNED, heard((UNSIGNED, -1.0)), "right"),
        (UNSIGNED, heard((PLUS_TWO, -1.0)), "wrong"),
        ("sphere plus two cylinder minus one axis ten", heard((BEYOND, -1.0)), "asked"),
    ],
)
def test_phrases(said: str, hearing: Hearing, result: str) -> None:
    judged = judge_of("normal", load(), LIMITS)(hearing, EXAM_RULES)

    assert phrase_result(row(said), judged) == result


@pytest.mark.parametrize(
    ("hearing", "whole", "result"),
    [
        (heard((PLUS_TWO, -1.0)), True, "entered"),
        (heard((PLUS_TWO, -1.0)), False, "asked"),
        (heard((PLUS_TWO, -7.0)), True, "asked"),
        (heard((PLUS_TWO, -20.0)), True, "ignored"),
        (heard(("right eye", -1.0)), True, "entered"),
        (heard(("scratch that", -1.0)), True, "entered"),
        (heard(("no", -1.0)), True, "answer"),
        (heard(("yes", -7.0)), True, "answer"),
        (heard(("plus two", -1.0)), True, "answer"),
        (heard((UNSIGNED, -1.0)), True, "asked"),
        (heard(), True, "ignored"),
    ],
)
def test_other_talk(hearing: Hearing, whole: bool, result: str) -> None:
    judged = judge_of("normal", load(), LIMITS)(hearing, EXAM_RULES)

    assert talk_result(row(""), judged, whole=whole) == result


def test_under_one_rule_an_answer_is_an_entry() -> None:
    judged = Judged("accepted", heard(("no", -1.0)).hypotheses[0].meanings, 0.1)

    assert talk_result(row("", rule="answer"), judged, whole=True) == "entered"


@pytest.mark.parametrize(
    ("transcript", "outcome"),
    [
        ("Streak vertical neutral at +2.", "accepted"),
        ("Street vertical neutral at +2.", "ignored"),
        ("", "ignored"),
    ],
)
def test_free_dictation_is_parsed_strictly(transcript: str, outcome: str) -> None:
    hearing = Hearing("m", heard((MINUS_TWO, 0.0)).hypotheses, transcript, -1.0, 0.1)
    judged = judge_of("free", load(), LIMITS)(hearing, EXAM_RULES)

    assert judged.outcome == outcome
    assert judged.best == (row(PLUS_TWO).expected if outcome == "accepted" else None)


def test_counts_add_up_by_set_condition_and_voice() -> None:
    cases = [
        phrase(PLUS_TWO, heard((PLUS_TWO, -1.0), seconds=0.3)),
        phrase(PLUS_TWO, heard((MINUS_TWO, -1.0)), speaker="bob"),
        phrase(PLUS_TWO, heard((PLUS_TWO, -7.0)), speaker="bob", condition="noise", snr_db=5.0),
        phrase(PLUS_TWO, heard(seconds=0.0), condition="noise", snr_db=5.0),
        phrase("good morning", heard((PLUS_TWO, -1.0))),
        talk(6.0, heard(), heard(("left eye", -1.0)), heard(("left eye", -7.0)), heard(("no", -1.0))),
        talk(24.0),
    ]
    found = counted([("normal", cases, judge_of("normal", load(), LIMITS))])

    phrases = found.phrases["set"][Group("normal", "phrases", EXAM_RULES)]
    assert dict(phrases.results) == {"right": 1, "wrong": 1, "asked": 1, "ignored": 1}
    assert (phrases.total, phrases.first, sorted(phrases.decode_s)) == (4, 2, [0.2, 0.2, 0.3])
    assert {
        (group.condition, group.snr_db): tally.total for group, tally in found.phrases["condition"].items()
    } == {("quiet", None): 2, ("noise", 5.0): 2}
    assert {group.speaker: tally.total for group, tally in found.phrases["voice"].items()} == {
        "ann": 2,
        "bob": 2,
    }

    other = found.talk["set"][Group("normal", "talk", EXAM_RULES)]
    assert dict(other.results) == {"ignored": 1, "entered": 1, "asked": 1, "answer": 1}
    assert (other.recordings, other.seconds, dict(other.kinds)) == (2, 1800.0, {"eye": 1})
    assert found.talk["set"][Group("normal", "phrases", EXAM_RULES)].results["entered"] == 1
    assert found.not_phrases == 1
    assert [(miss.result, miss.said) for miss in found.misses] == [
        ("wrong", PLUS_TWO),
        ("asked", PLUS_TWO),
        ("ignored", PLUS_TWO),
        ("entered", "good morning"),
        ("entered", ""),
        ("asked", ""),
    ]
