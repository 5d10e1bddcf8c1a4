"""Words that sound alike, and the phrases that training holds apart by them."""

from random import Random

from models.training.alike import cost, distance, nearest, pronunciations
from models.training.neighbours import SMALL, some_near

SAID: dict[str, set[tuple[str, ...]]] = {
    "ten": {("t", "ɛ", "n")},
    "then": {("ð", "ɛ", "n")},
    "two": {("t", "u")},
    "too": {("t", "u")},
    "to": {("t", "ə"), ("t", "u")},
    "haziest": {("h", "A", "z", "i", "ə", "s", "t")},
}


def test_a_sound_is_near_to_those_made_alike() -> None:
    assert cost("t", "t") == 0
    assert cost("t", "d") < cost("t", "m")
    assert cost("ɛ", "ə") < cost("ɛ", "t") == 1


def test_words_are_as_far_apart_as_their_sounds() -> None:
    ten, then, hazy = (next(iter(SAID[word])) for word in ("ten", "then", "haziest"))
    assert distance(ten, ten) == 0
    assert 0 < distance(ten, then) < distance(ten, hazy) <= 1
    assert distance(ten, then) == distance(then, ten)
    assert distance(ten, ()) == distance((), ten)


def test_near_words_come_first_and_those_that_may_sound_the_same_never() -> None:
    near = nearest(SAID)

    assert near["ten"][0] == "then"
    assert "too" not in near["two"]
    assert "to" not in near["too"]
    assert "haziest" not in near


def test_a_seldom_pronunciation_does_not_count() -> None:
    symbols = dict(enumerate(", tˈuiz"))
    plain, odd = ([*(0, 1), 2, 3, vowel] for vowel in (4, 5))
    items = [{"kind": "trade", "text": "two", "tokens": plain}] * 30
    items += [
        {"kind": "trade", "text": "two", "tokens": odd},
        {"kind": "general", "text": "tea", "tokens": odd},
    ]

    assert pronunciations(items, symbols) == {"two": {("t", "u")}}


def test_what_is_held_apart_differs_by_a_word_that_sounds_alike() -> None:
    alike = {"cyl": ["so", "still"]}
    found = {each for seed in range(200) for each in some_near("then cyl minus", 4, Random(seed), alike)}

    assert {"then so minus", "then still minus"} <= found
    assert any(each.split() == [small, "then", "cyl", "minus"] for each in found for small in SMALL)
    without = {each for seed in range(200) for each in some_near("then cyl minus", 4, Random(seed))}
    assert not without & {"then so minus", "then still minus"}
