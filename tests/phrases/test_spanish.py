"""A second language of the same program: only its grammar's folder is other."""

from itertools import islice
from random import Random
from typing import Any

import pytest

from tests.phrases.telling import all_told
from voicelog.phrases.building import build
from voicelog.phrases.card import phrase_card
from voicelog.phrases.grammar import load_named
from voicelog.phrases.lines import TYPED, LineReader, NotAPhraseError
from voicelog.phrases.matcher import Matcher, tokenise
from voicelog.phrases.sampler import samples
from voicelog.session import Session
from voicelog.settings import Settings

SPANISH = load_named("es")
READER = LineReader(SPANISH, "line in_hand", *TYPED)


def said(line: str) -> list[dict[str, Any]]:
    return all_told(READER, line)


def test_a_whole_eye_in_one_breath() -> None:
    eye, distance, reading = said("ojo derecho, distancia de trabajo 67, franja vertical neutro más dos")
    assert eye == {"kind": "eye", "eye": "right"}
    assert distance == {"kind": "working_distance", "distance": 67.0}
    assert reading == {
        "kind": "reading",
        "where": {"names": "streak", "angle": 90},
        "motion": "neutral",
        "lens": {"sphere": 2.0},
    }


@pytest.mark.parametrize(
    ("line", "power"),
    [
        ("vertical más dos y medio", 2.5),
        ("vertical menos uno setenta y cinco", -1.75),
        ("vertical más dos coma veinticinco", 2.25),
        ("vertical +2,25", 2.25),
        ("vertical más dos no menos dos", -2.0),
        ("vertical más un cuarto", 0.25),
        ("vertical dos y cuarto", {"size": 2.25, "sign": None}),
    ],
)
def test_powers(line: str, power: object) -> None:
    (reading,) = said(line)
    assert reading["lens"] == {"sphere": power}


def test_corrections_and_doubt() -> None:
    assert said("no menos") == [
        {"kind": "correction", "entry": {"kind": "sign", "sign": "minus"}, "count": 1}
    ]
    assert said("casi neutro en vertical")[0]["motion"] == "not_neutral"
    with pytest.raises(NotAPhraseError):
        READER.understand("no vertical neutro sin más dos")


def test_random_phrases_are_matched_back() -> None:
    matcher = Matcher(SPANISH.walker("line", *TYPED))
    for sample in islice(samples(SPANISH.walker("line"), Random(4), seldom=False), 200):
        values = matcher.values(tokenise(sample.text, SPANISH.language))
        assert sample.meanings in {build("line", value) for value in values}, sample.text


def test_the_card_is_in_the_language() -> None:
    for item in phrase_card(SPANISH):
        for example in item.examples:
            LineReader(SPANISH, f"{item.rule} line in_hand").understand(example)


def test_an_exam_is_typed_from_its_first_line_to_its_refraction() -> None:
    """It has no words for some answers and findings that English has; nothing else may hang on them."""
    session = Session(Settings(language="es", naming="streak"))
    lines = (
        *("ojo derecho", "vertical dos", "más dos", "distancia de trabajo 50"),
        *("horizontal neutro más tres", "cualquier cosa"),
    )
    outcomes = [session.type_line(line).outcome for line in lines]

    assert outcomes == ["accepted", "asked", "accepted", "accepted", "accepted", "asked"]
    assert str(session.state.eyes["right"].result) == "+1.00 -1.00 x 090"
