"""With a question open its natural answers come first."""

from typing import Any

import pytest

from tests.english import load
from tests.phrases.telling import told
from voicelog.phrases.lines import TYPED, LineReader, NotAPhraseError


def answer(question: str, line: str) -> list[dict[str, Any]]:
    """What a line says when such a question is open."""
    reader = LineReader(load(), f"answers_{question} line in_hand", *TYPED)
    (reading,) = reader.understand(line).readings
    return [told(meaning) for meaning in reading]


@pytest.mark.parametrize(
    ("question", "line", "meant"),
    [
        ("where", "vertical", {"kind": "where", "where": {"angle": 90}}),
        ("where", "the horizontal one", {"kind": "where", "where": {"angle": 180}}),
        ("where", "streak at ninety", {"kind": "where", "where": {"names": "streak", "angle": 90}}),
        ("where", "one eighty", {"kind": "where", "where": {"angle": 180}}),
        ("where", "both", {"kind": "where", "where": {"which": "both"}}),
        ("where", "i name the meridian always", {"kind": "habit", "naming": "meridian"}),
        ("eye", "the left one", {"kind": "eye", "eye": "left"}),
        ("eye", "that was the right eye", {"kind": "eye", "eye": "right"}),
        ("eye", "r e", {"kind": "eye", "eye": "right"}),
        ("eye", "same eye", {"kind": "answer", "answer": "same"}),
        ("axis", "along twenty", {"kind": "axis", "axis": 20}),
        ("axis", "one seventy five", {"kind": "axis", "axis": 175}),
        ("sign", "plus of course", {"kind": "sign", "sign": "plus"}),
        ("sign", "it is minus", {"kind": "sign", "sign": "minus"}),
        ("sign", "minus two fifty", {"kind": "power", "power": -2.5}),
        ("confirm", "yeah", {"kind": "answer", "answer": "yes"}),
        ("confirm", "that is not correct", {"kind": "answer", "answer": "no"}),
        ("distance", "two thirds of a metre", {"kind": "working_distance", "distance": 66.667}),
        ("distance", "sixty seven", {"kind": "working_distance", "distance": 67.0}),
        ("power", "plus two fifty", {"kind": "power", "power": 2.5}),
        ("motion", "still with", {"kind": "reading", "motion": "with", "manner": ["still"]}),
        ("scope", "all of them", {"kind": "scope", "scope": "all"}),
        ("scope", "the left", {"kind": "eye", "eye": "left"}),
    ],
)
def test_the_natural_word_answers(question: str, line: str, meant: dict[str, Any]) -> None:
    assert answer(question, line) == [meant]


def test_no_with_the_right_value() -> None:
    assert answer("confirm", "nope plus three") == [
        {"kind": "answer", "answer": "no"},
        {"kind": "power", "power": 3.0},
    ]
    assert answer("confirm", "no horizontal")[1] == {"kind": "where", "where": {"angle": 180}}


def test_a_number_without_its_kind_is_offered_as_each_that_it_can_be() -> None:
    reader = LineReader(load(), "answers_confirm line in_hand", *TYPED)
    kinds = {reading[1].kind for reading in reader.understand("no i said sixty not sixteen").readings}
    assert kinds == {"axis", "working_distance"}


def test_the_entry_said_again_answers_too() -> None:
    (found,) = answer("where", "vertical neutral at plus two")
    assert found["kind"] == "reading"


@pytest.mark.parametrize(
    ("question", "line"),
    [
        ("confirm", "right"),
        ("confirm", "okay"),
        ("confirm", "yes that's fine you can blink"),
        ("axis", "one"),
        ("power", "two"),
        ("sign", "plus my husband has glaucoma"),
        ("eye", "my left eye is the bad one"),
        ("where", "the lines going up and down are darker"),
        ("distance", "i'm sixty seven"),
    ],
)
def test_other_talk_answers_nothing(question: str, line: str) -> None:
    with pytest.raises(NotAPhraseError):
        LineReader(load(), f"answers_{question} line", *TYPED).understand(line)
