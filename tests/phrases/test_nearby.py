"""The search for phrases near a line, in a grammar that is small enough to see what must be found."""

from pathlib import Path

import pytest

from voicelog.phrases.automaton import Token
from voicelog.phrases.grammar import load
from voicelog.phrases.language import language_in
from voicelog.phrases.nearby import Changes, Near, near
from voicelog.phrases.stepping import Stepper, stepper

_GRAMMAR = """#JSGF V1.0 UTF-8 en;
grammar small;
public <line> = (/3/ upright | /1/ flat) [is] [<sign>] <number>;
<number> = one | two | twenty [one | two];
<sign> = plus | minus;
"""
_NUMBERS = frozenset({"one", "two", "twenty", "plus", "minus"})


@pytest.fixture(name="small")
def _small(tmp_path: Path) -> Stepper:
    (tmp_path / "small.jsgf").write_text(_GRAMMAR, encoding="utf-8")
    (tmp_path / "language.toml").write_text('code = "en"\nletters = ""\nmisheard = []\n', encoding="utf-8")
    return stepper(load(language_in(tmp_path)), "line")


def _near(
    walk: Stepper,
    line: str,
    passed: dict[int, float] | None = None,
    instead: dict[int, dict[str, float]] | None = None,
    between: dict[int, dict[str, float]] | None = None,
    slack: float = 0.0,
    weight: float = 0.0,
) -> list[Near]:
    tokens = [Token(word) for word in line.split()]
    changes = Changes(
        passed or {},
        walked_over=[(token,) for token in tokens],
        of_numbers=[token.text in _NUMBERS for token in tokens],
        signs=[token.text in ("plus", "minus") for token in tokens],
        instead={
            at: {Token(word): cost for word, cost in words.items()} for at, words in (instead or {}).items()
        },
        between={
            at: {Token(word): cost for word, cost in words.items()} for at, words in (between or {}).items()
        },
        slack=slack,
        weight=weight,
    )
    found = near(walk, tokens, changes)
    return [] if found is None else list(found.phrases)


def _lines(found: list[Near]) -> list[str]:
    return [" ".join(token.text for token in each.words) for each in found]


def test_a_phrase_is_nearest_to_itself(small: Stepper) -> None:
    assert _near(small, "upright is two") == [
        Near(0.0, tuple(map(Token, ("upright", "is", "two"))), (0, 1, 2))
    ]


def test_as_few_words_as_can_be_are_passed_over(small: Stepper) -> None:
    everything = dict.fromkeys(range(4), 1.0)

    (found,) = _near(small, "upright is uh two", everything)

    assert (found.cost, found.kept) == (1.0, (0, 1, 3))


def test_with_slack_what_costs_a_little_more_is_found_too(small: Stepper) -> None:
    found = _near(small, "upright is uh two", dict.fromkeys(range(4), 1.0), slack=1.0)

    assert [each.cost for each in found] == [1.0, 2.0]
    assert _lines(found) == ["upright is two", "upright two"]


@pytest.mark.parametrize(
    "line", ["upright twenty uh one", "upright twenty one one", "upright twenty plus one"]
)
def test_inside_a_number_nothing_is_passed_over(small: Stepper, line: str) -> None:
    assert _near(small, line, {2: 1.0}) == []


def test_between_a_number_and_the_sign_of_the_next_something_may_be_passed_over(small: Stepper) -> None:
    (found,) = _near(small, "uh upright uh plus one", {0: 1.0, 2: 1.0})

    assert _lines([found]) == ["upright plus one"]


def test_one_word_may_be_changed_or_put_in_but_not_two(small: Stepper) -> None:
    others = {"upright": 5.0, "flat": 5.0, "is": 5.0}

    assert _lines(_near(small, "uprihgt is one", instead={0: {"upright": 1.0, "flat": 9.0}})) == [
        "upright is one"
    ]
    assert sorted(_lines(_near(small, "is one", between={0: others}))) == ["flat is one", "upright is one"]
    assert _near(small, "uprihgt iz one", instead={0: others, 1: others}) == []


def test_of_what_costs_the_same_the_likelier_is_first(small: Stepper) -> None:
    found = _near(small, "one", between={0: {"flat": 5.0, "upright": 5.0}}, weight=1.0)

    assert _lines(found) == ["upright one", "flat one"]
    assert found[0].cost < found[1].cost
    assert found[0].kept == (0,)
