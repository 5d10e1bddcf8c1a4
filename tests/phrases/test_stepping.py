"""Steps with weights alone agree with the walker, which knows nothing of them."""

from collections.abc import Sequence
from itertools import islice
from random import Random

import pytest

from tests.english import ENGLISH, load
from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.lines import TYPED
from voicelog.phrases.matcher import Matcher, tokenise
from voicelog.phrases.sampler import samples
from voicelog.phrases.stepping import START, Spot, Stepper, stepper


def _weight(walk: Stepper, tokens: Sequence[Token]) -> float | None:
    """The best log weight of a line, walked step by step."""
    spots: dict[Spot, float] = {START: 0.0}
    for token in tokens:
        reached: dict[Spot, float] = {}
        for spot, so_far in spots.items():
            for log_weight, target in walk.over(spot, token):
                reached[target] = max(so_far + log_weight, reached.get(target, float("-inf")))
        spots = reached
    ends = [weight + end for spot, weight in spots.items() if (end := walk.to_end(spot)) is not None]
    return max(ends, default=None)


@pytest.mark.parametrize("count", [20, pytest.param(200, marks=pytest.mark.sweep)])
@pytest.mark.parametrize("rule", ["line", "in_hand", "answers_where"])
def test_a_line_has_the_weight_that_the_matcher_finds(rule: str, count: int) -> None:
    matcher = Matcher(load().walker(rule, Layer.WRITTEN))
    walk = stepper(load(), rule, Layer.WRITTEN)
    for sample in islice(samples(load().walker(rule), Random(8)), count):
        tokens = tokenise(sample.text, ENGLISH)
        expected = matcher.log_weight(tokens)
        assert expected is not None
        assert _weight(walk, tokens) == pytest.approx(expected)


def test_a_line_that_is_no_phrase_has_no_weight() -> None:
    walk = stepper(load(), "line", *TYPED)

    assert _weight(walk, tokenise("streak vertical plus banana", ENGLISH)) is None
    assert _weight(walk, tokenise("streak vertical plus", ENGLISH)) is None


def test_what_may_follow_is_told_without_walking_there() -> None:
    walk = stepper(load(), "line", *TYPED)
    spots = [target for _, target in walk.over(START, Token("working"))]
    spot = next(each for each in spots if walk.among(each, {Token("distance")}))

    assert walk.among(spot, {Token("distance"), Token("banana")}) == {Token("distance")}
    assert walk.may_go_on(spot, {Token("distance")}, to_end=False)
    assert not walk.may_go_on(spot, {Token("banana")}, to_end=True)


def test_how_far_a_line_is_known_and_whole() -> None:
    walk = stepper(load(), "line", *TYPED)
    words = [(token,) for token in tokenise("right eye streak vertical banana", ENGLISH)]

    assert walk.longest_start(words) == 4
    assert walk.longest_whole(words) == 4
    assert walk.longest_whole([(token,) for token in tokenise("working distance", ENGLISH)]) == 0
