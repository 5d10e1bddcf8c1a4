"""Fifteen and fifty: numbers whose words are taken for each other. Which they are, the language says."""

from collections.abc import Iterator
from typing import Any, Literal

from voicelog.phrases.language import Language
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.meanings import Model
from voicelog.phrases.traversal import angles

Rival = Literal["plain", "odd"]


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
