"""Phrases that differ by one word from what was said: what training holds apart, and what trials choose among."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from random import Random
from types import MappingProxyType

CLASSES = (
    "zero oh nought one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
    "seventeen eighteen nineteen twenty thirty forty fifty sixty seventy eighty ninety hundred",
    "plus minus",
    "with against neutral",
    "horizontal vertical",
    "right left other",
    "sphere cylinder",
    "streak meridian axis",
    "in out",
    "quarter half",
    "quarter quarters",
    "yes no",
)
_OF_CLASS = tuple(tuple(each.split()) for each in CLASSES)

LIKE = (
    "thirteen thirty", "fourteen forty", "fifteen fifty", "sixteen sixty", "seventeen seventy",
    "eighteen eighty", "nineteen ninety", "fifty sixty", "fifteen sixteen", "five nine", "one nine",
    "four five", "four forty", "six sixty", "seven seventy", "eight eighty", "nine ninety", "thirteen fourteen",
    "eighteen nineteen", "with without", "quarter half", "quarter quarters", "zero oh", "two three", "in on",
    "neutral nearly", "right bright", "now no", "at a", "at that", "eight at", "and an", "and in", "on and", "on one",
    "against again", "eighth eighths", "fast past", "fast first", "not nought", "cyl six", "wide right", "then than",
)  # fmt: skip
"""Pairs that sound alike in noise. From our own counts of errors on tuning voices, and by ear."""
_LIKE = tuple(tuple(each.split()) for each in LIKE)


Alike = Mapping[str, Sequence[str]]
"""For words those that sound like them (alike.py)."""
NONE_ALIKE: Alike = MappingProxyType({})
_SMALL = "a and the it in on at one ten two to is of oh i no now eye l r then that with yes"
SMALL = tuple(_SMALL.split())
"""Words that are heard where nobody said them."""


def neighbours(text: str) -> Iterator[str]:
    """Phrases that differ by one word."""
    words = text.split()
    for place, word in enumerate(words):
        for others in _OF_CLASS:
            if word in others:
                for other in others:
                    if other != word:
                        yield " ".join([*words[:place], other, *words[place + 1 :]])
        if len(words) > 1:
            yield " ".join(words[:place] + words[place + 1 :])


def like(word: str) -> list[str]:
    """Words that sound like `word`."""
    return [other for pair in _LIKE if word in pair for other in pair if other != word]


def one_like(text: str, chance: Random) -> str | None:
    """A phrase that differs by one word that sounds alike; None where there is none."""
    words = text.split()
    places = [place for place, word in enumerate(words) if like(word)]
    if not places:
        return None
    place = chance.choice(places)
    return " ".join([*words[:place], chance.choice(like(words[place])), *words[place + 1 :]])


def one_near(text: str, chance: Random, alike: Alike = NONE_ALIKE) -> str | None:
    """A phrase that differs by one word: by one that sounds alike, else by any of its class, by leaving a word out or,
    where it is known what sounds alike, by one more; None where there is none.
    """
    words = text.split()
    places = [place for place, word in enumerate(words) if word in alike]
    if places and chance.random() < 0.65:
        place = chance.choice(places)
        return " ".join([*words[:place], chance.choice(alike[words[place]]), *words[place + 1 :]])
    if alike and chance.random() < 0.2:
        place = chance.randrange(len(words) + 1)
        return " ".join([*words[:place], chance.choice(SMALL), *words[place:]])
    near = one_like(text, chance) if chance.random() < 0.5 else None
    if near is not None:
        return near
    place = chance.randrange(len(words))
    others = [other for each in _OF_CLASS if words[place] in each for other in each if other != words[place]]
    if others and chance.random() < 0.8:
        return " ".join([*words[:place], chance.choice(others), *words[place + 1 :]])
    return " ".join(words[:place] + words[place + 1 :]) if len(words) > 1 else None


def some_near(text: str, count: int, chance: Random, alike: Alike = NONE_ALIKE) -> list[str]:
    """Phrases that differ by one word, drawn `count` times, each once: none of a text without words."""
    drawn = [one_near(text, chance, alike) for _ in range(count)] if text else []
    return list(dict.fromkeys(each for each in drawn if each is not None and each != text))
