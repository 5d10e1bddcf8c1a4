"""Word pairs of a rule, checked against walking the whole rule."""

from itertools import islice, pairwise
from random import Random

import pytest

from tests.english import ENGLISH, load
from voicelog.phrases.errors import UnknownRuleError
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.matcher import tokenise
from voicelog.phrases.neighbours import Neighbours, neighbours
from voicelog.phrases.sampler import samples


def walked(grammar: Grammar, rule: str) -> Neighbours:
    """First words, last words and pairs, found by going everywhere."""
    walker = grammar.walker(rule)
    first = {token.text for token in walker.ways(walker.start).by_token}
    last: set[str] = set()
    pairs: set[tuple[str, str]] = set()
    todo, seen = [walker.start], {walker.start}
    while todo:
        for token, steps in walker.ways(todo.pop()).by_token.items():
            for target in (step.target for step in steps):
                pairs |= {(token.text, other.text) for other in walker.ways(target).by_token}
                last |= {token.text} if walker.may_end(target) else set()
                if target not in seen:
                    seen.add(target)
                    todo.append(target)
    return Neighbours(frozenset(first), frozenset(last), frozenset(pairs))


@pytest.mark.parametrize("rule", ["digit", "answer", "axis", "power", "distance"])
def test_they_are_those_that_walking_finds(rule: str) -> None:
    assert neighbours(load(), rule) == walked(load(), rule)


@pytest.mark.parametrize("count", [80, pytest.param(300, marks=pytest.mark.sweep)])
def test_random_phrases_hold_no_other_pair(count: int) -> None:
    found = neighbours(load(), "in_hand")

    for sample in islice(samples(load().walker("in_hand"), Random(1)), count):
        words = [token.text for token in tokenise(sample.text, ENGLISH)]
        assert words[0] in found.first
        assert words[-1] in found.last
        assert set(pairwise(words)) <= found.pairs


@pytest.mark.parametrize("rule", ["answer", "power", "entry"])
def test_the_covering_lines_hold_all_of_them_and_nothing_else(rule: str) -> None:
    found = neighbours(load(), rule)
    lines = [line.split() for line in found.covering_phrases()]

    assert {pair for line in lines for pair in pairwise(line)} == found.pairs
    assert {line[0] for line in lines} <= found.first
    assert {line[-1] for line in lines} <= found.last
    assert {word for line in lines for word in line} == found.words


def test_without_a_word_nothing_leads_through_it() -> None:
    found = neighbours(load(), "answer")
    left = found.only(found.words - {"again"})

    assert "say again" in found.covering_phrases()
    assert set(left.covering_phrases()) == {"yes", "no"}


def test_an_unknown_rule_is_named() -> None:
    with pytest.raises(UnknownRuleError):
        neighbours(load(), "nothing")
