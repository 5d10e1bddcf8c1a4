"""What is taken for another in hearing, and does harm: fifteen and fifty, plus and minus, right and left."""

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, Literal

from voicelog.phrases.language import Language
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.meanings import Model
from voicelog.phrases.traversal import angles

Rival = Literal["plain", "odd"]
_GRAVE = frozenset({"eye", "motion", "sign", "direction", "base"})


@cache
def exchanges(language: Language) -> Mapping[str, frozenset[str]]:
    """For each word of a number, sign, eye or motion those that would make another entry in its place."""
    numbers = (number_words(language),)
    others: dict[str, frozenset[str]] = {}
    for group in (*language.exchanged, *numbers):
        for word in group:
            others[word] = others.get(word, frozenset()) | (frozenset(group) - {word})
    return others


@cache
def number_words(language: Language) -> tuple[str, ...]:
    """The words that numbers are made of; none in a language whose numbers are not told."""
    numbers = language.numbers
    return () if numbers is None else tuple(dict.fromkeys((*numbers.below_twenty, *numbers.tens[1:])))


def has_odd_number(meanings: Meanings, language: Language) -> bool:
    """Whether an axis among it is such as 16 or 118.

    Streak axes are read in fives (common practice, no source): sixteen is far rarer than sixty. Fifteen is not odd so.
    """
    odd = {number for number in language.misheard if number % 5}
    return any(axis % 100 in odd for axis in _angles(meanings))


def has_odd_axis(meanings: Meanings, language: Language) -> bool:
    """Whether an axis among it is said with one odd word: 16 for 60, but also 2, which is "to" or "ten".

    Digit by digit ("one seven two") and other numbers are plain; angles that are no axis are never sure.
    """
    return has_odd_number(meanings, language) or any(
        not 5 <= axis <= 180 or axis in (6, 7, 8, 9) for axis in _angles(meanings)
    )


def misheard_rival(best: Meanings, other: Meanings, language: Language) -> Rival | None:
    """Whether `other` is `best` with a number that is taken for another, as -teen for -ty, and nothing else.

    "odd": only `other` holds an axis such as 16, so that its being meant is unlikely from the start.
    """
    ours, theirs = ([number for each in said for number in _numbers(each)] for said in (best, other))
    if [each.kind for each in best] != [each.kind for each in other] or len(ours) != len(theirs):
        return None
    differing = [(a, b) for a, b in zip(ours, theirs, strict=True) if a != b]
    if not differing or not all(_pair(a, b, language) or _pair(b, a, language) for a, b in differing):
        return None
    return "odd" if has_odd_number(other, language) and not has_odd_number(best, language) else "plain"


def differs_gravely(best: Meanings, other: Meanings) -> bool:
    """Whether `other` says the same things of another number, sign, eye or motion: nobody sees such a slip at once."""
    if [each.kind for each in best] != [each.kind for each in other]:
        return False
    ours, theirs = (_told([each.model_dump(mode="json") for each in said]) for said in (best, other))
    return any(_is_grave(path[-1], ours[path], theirs[path]) for path in ours.keys() & theirs.keys())


def _told(data: Any, path: tuple[str, ...] = ()) -> dict[tuple[str, ...], Any]:
    """All values of nested data by their paths."""
    if isinstance(data, dict | list):
        parts = data.items() if isinstance(data, dict) else enumerate(data)
        return {at: value for name, part in parts for at, value in _told(part, (*path, str(name))).items()}
    return {path: data}


def _is_grave(name: str, ours: Any, theirs: Any) -> bool:
    if ours == theirs:
        return False
    numbers = all(isinstance(each, int | float) and not isinstance(each, bool) for each in (ours, theirs))
    return numbers or name in _GRAVE


def _pair(rarer: float, usual: float, language: Language) -> bool:
    """15 and 50 as degrees, 1.15 and 1.50 or 15 and 0.50 as dioptres; signs and hundreds alike."""
    if rarer * usual < 0:
        return False
    scales = ((1, 1), (100, 100), (1, 100))
    return any(_spoken_alike(abs(rarer) * a, abs(usual) * b, language) for a, b in scales)


def _spoken_alike(rarer: float, usual: float, language: Language) -> bool:
    taken_for = {float(one): float(other) for one, other in language.misheard.items()}
    return rarer // 100 == usual // 100 and taken_for.get(round(rarer % 100, 6)) == round(usual % 100, 6)


def _angles(meanings: Meanings) -> Iterator[int]:
    for meaning in meanings:
        yield from angles(meaning)


def _numbers(data: Any) -> list[float]:
    if isinstance(data, Model):
        return _numbers(data.model_dump(mode="json"))
    if isinstance(data, dict):
        return [number for value in data.values() for number in _numbers(value)]
    return [float(data)] if isinstance(data, int | float) and not isinstance(data, bool) else []
