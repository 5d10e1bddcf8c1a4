"""Of several rules that are listened for together an answer goes first, heard as it does typed."""

import pytest

from tests.english import load
from voicelog.hearing.engines.gathering import gathered
from voicelog.phrases import meanings as say
from voicelog.phrases.in_order import RulesInOrder
from voicelog.phrases.lines import TYPED, LineReader, reader_of
from voicelog.phrases.matcher import tokenise

HEARD = (
    ("answers_axis lone_answer line in_hand", "seventy five", say.LooseAxis(axis=75)),
    ("answers_distance lone_answer line in_hand", "fifty", say.WorkingDistance(distance=50)),
    (
        "answers_where lone_answer line in_hand",
        "ninety",
        say.LooseWhere(where=say.Where(names=None, angle=90)),
    ),
    ("answers_sign lone_answer line in_hand", "no minus", say.LooseSign(sign="minus")),
)


@pytest.mark.parametrize(("rules", "line", "meaning"), HEARD)
def test_what_answers_is_an_answer(rules: str, line: str, meaning: say.Meaning) -> None:
    words = tokenise(line, load().language)

    (heard,) = gathered([(line, words, -1.0)], RulesInOrder(load(), rules))

    assert heard.meanings == (meaning,)
    assert LineReader(load(), rules).understand(line).readings == (heard.meanings,)


def test_what_is_no_answer_is_an_entry() -> None:
    words = tokenise("streak vertical plus two", load().language)

    (heard,) = gathered([("", words, -1.0)], RulesInOrder(load(), "answers_axis lone_answer line in_hand"))

    assert [each.kind for each in heard.meanings] == ["reading"]


@pytest.mark.parametrize("word", ["yes", "no"])
def test_yes_and_no_are_heard_with_a_question_open_alone(word: str) -> None:
    words = tokenise(word, load().language)

    assert RulesInOrder(load(), "line in_hand").readings(words) == ()
    assert RulesInOrder(load(), "answers_confirm lone_answer line in_hand").readings(words) != ()


def test_a_number_that_is_cut_in_two_is_no_entry_heard_or_typed() -> None:
    line = "power in the one fifty meridian minus three and a half"

    for readings in (
        RulesInOrder(load(), "line in_hand").readings(tokenise(line, load().language)),
        getattr(LineReader(load(), "line in_hand").phrase(line), "readings", ()),
    ):
        assert not any(len(reading) > 1 for reading in readings)


@pytest.mark.parametrize(
    ("line", "sizes"),
    [
        ("horizontal streak plus one fifty that one neutral", {1.5}),
        ("vertical streak plus two seventy five and that one neutral", {2.75}),
        ("give half a dioptre minus more", {0.5}),
    ],
)
def test_a_number_is_not_cut_for_a_word_behind_it(line: str, sizes: set[float]) -> None:
    """ "Plus one | fifty that one neutral" was plus one, and another entry."""
    for readings in (
        RulesInOrder(load(), "line in_hand").readings(tokenise(line, load().language)),
        getattr(LineReader(load(), "line in_hand", *TYPED).loosely(line), "readings", ()),
    ):
        for reading in readings:
            assert {power.size_d for each in reading for power in _powers(each)} <= sizes


@pytest.mark.parametrize(
    "line",
    [
        "right six twelve left six nine",
        "vision o d twenty fifty o s twenty thirty",
        "right six six left six nine",
    ],
)
def test_a_number_that_is_said_again_cuts_none(line: str) -> None:
    assert RulesInOrder(load(), "line in_hand").readings(tokenise(line, load().language)) != ()


def _powers(meaning: say.Meaning) -> list[say.Power]:
    lens = getattr(meaning, "lens", None)
    return [] if lens is None else [each for each in (lens.sphere,) if each is not None]


def test_a_reader_is_made_once() -> None:
    assert reader_of(load(), "line in_hand", *TYPED) is reader_of(load(), "line in_hand", *TYPED)
    assert reader_of(load(), "line in_hand") is not reader_of(load(), "line")
