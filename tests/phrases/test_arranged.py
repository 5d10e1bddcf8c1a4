"""Lines whose pieces stand in an order that the grammar does not know: what they say, and when they say nothing."""

from itertools import permutations

import pytest

from tests.english import ENGLISH, load
from voicelog.phrases import nodes
from voicelog.phrases.arranged import Arranger
from voicelog.phrases.grammar import load_pieces
from voicelog.phrases.in_order import RulesInOrder
from voicelog.phrases.language import language_named
from voicelog.phrases.lines import TYPED, LineReader
from voicelog.phrases.word_sets import word_sets, words_of

_RULES = "line in_hand"
LINE = LineReader(load(), _RULES, *TYPED)
ARRANGER = Arranger(load(), RulesInOrder(load(), _RULES, *TYPED), word_sets(load()), *TYPED)


@pytest.mark.parametrize(
    ("line", "plain"),
    [
        (
            "streak up and down and she's gone neutral with plus two and a half",
            "streak vertical neutral plus two and a half",
        ),
        ("it stops moving with minus six in the horizontal", "horizontal neutral minus six"),
        ("put plus two down for vertical", "vertical plus two"),
        (
            "when i sweep horizontally it's neutral at plus one fifty",
            "sweeping horizontal neutral plus one fifty",
        ),
        ("got my neutral on the ninety with the plus two on the rack", "at ninety neutral plus two"),
        (
            "streak on its side plus one no tell a lie plus one and a half",
            "streak horizontal plus one and a half",
        ),
        ("same whichever way i turn it plus one seventy five", "both meridians plus one seventy five"),
        ("oh no i've told you wrong it's plus two and a quarter", "sorry plus two and a quarter"),
    ],
)
def test_a_line_says_in_any_order_what_it_says_in_the_order_of_the_grammar(line: str, plain: str) -> None:
    assert LINE.phrase(line) is None
    assert LINE.understand(line).readings == LINE.understand(plain).readings


@pytest.mark.parametrize("order", list(permutations(["vertical", "neutral", "plus two"])))
def test_the_order_of_the_pieces_does_not_matter(order: tuple[str, ...]) -> None:
    arranged = ARRANGER.arranged(" now ".join(order))

    assert arranged is not None
    assert arranged.found.readings == LINE.understand("vertical neutral plus two").readings


@pytest.mark.parametrize(
    "line",
    [
        "plus one well seventy five vertical",  # one number, or two
        "ninety i think two and a half",  # the same, without a sign
        "vertical plus two or maybe plus three",  # which of them
        "nothing like neutral at plus two vertical",
        "nearly at neutral with plus two vertical",
        "just about neutral vertical",
        "without neutral in the vertical plus two",
        "vertical horizontal now plus two",  # of which
        "plus two then plus three now vertical",
        "your vertical should come to plus two",  # said to another person
        "not really what i would call plus two vertical",
    ],
)
def test_what_may_say_another_thing_is_not_put_in_order(line: str) -> None:
    arranged = ARRANGER.arranged(line)

    assert arranged is None or not arranged.sure


@pytest.mark.parametrize(
    "line", ["i'm neutral on that", "come along with me", "she's two and a quarter", "both eyes i think"]
)
def test_pieces_that_another_person_may_say_are_no_entry(line: str) -> None:
    assert ARRANGER.arranged(line) is None


def _words(node: nodes.Node) -> set[str]:
    match node:
        case nodes.Word(text):
            return {text}
        case nodes.Choice(options):
            return set().union(*(_words(option) for _, option in options))
        case nodes.Sequence(items):
            return set().union(*(_words(item) for item in items))
        case nodes.Tagged(inner) | nodes.Repeat(inner):
            return _words(inner)
        case _:
            return set()


@pytest.mark.parametrize("rule", ["light", "mild", "pleased"])
def test_no_word_of_a_number_doubt_or_denial_is_among_those_that_tell_nothing(rule: str) -> None:
    pieces = load_pieces(ENGLISH)
    assert pieces is not None
    words = _words(pieces.rules[rule].main.node)
    doubt = words_of(load(), "telling_doubt") - {"sorry", "no", "would"}  # said around an answer

    assert words
    assert words.isdisjoint(doubt | word_sets(load()).signs | _OF_NUMBERS)


_OF_NUMBERS = words_of(load(), "unit") - {"one"} | words_of(load(), "teen") | words_of(load(), "tens")
"""Of these, "one" may stand for what it is of: "the left one"."""


def test_a_language_without_pieces_reads_as_before() -> None:
    assert load_pieces(language_named("es")) is None
