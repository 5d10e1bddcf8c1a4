"""Fifteen and fifty: the number words that are misheard most, by people and by recognisers alike.

Sources: Institute for Safe Medication Practices, Medication Safety Alert 24 January 2001 (fifteen taken for fifty);
and our own trials, where every confident wrong value was such a pair.
"""

from typing import Any, Literal

from voicelog.exam.completing import angles
from voicelog.phrases.meanings import Meaning
from voicelog.phrases.saying import TEENS

Rival = Literal["teen", "odd teen"]

# Streak axes are read in fives (common practice, no source): sixteen is far rarer than sixty. Fifteen is not odd so.
_ODD = frozenset({13, 14, 16, 17, 18, 19})


def has_odd_teen(meaning: Meaning) -> bool:
    """Whether a meaning holds an axis such as 16 or 118."""
    return any(axis % 100 in _ODD for axis in angles(meaning))


def has_odd_axis(meaning: Meaning) -> bool:
    """Whether a meaning holds an axis that is said with one odd word: 16 for 60, but also 2, which is "to" or "ten".

    Digit by digit ("one seven two") and other numbers are plain; angles that are no axis are never sure.
    """
    return has_odd_teen(meaning) or any(
        not 5 <= axis <= 180 or axis in (6, 7, 8, 9) for axis in angles(meaning)
    )


def teen_rival(best: Meaning, other: Meaning) -> Rival | None:
    """Whether `other` is `best` with -teen for -ty or the reverse, and nothing else.

    "odd teen": only `other` holds an axis such as 16, so that its being meant is unlikely from the start.
    """
    ours, theirs = (_numbers(each.model_dump(mode="json")) for each in (best, other))
    if best.kind != other.kind or len(ours) != len(theirs):
        return None
    differing = [(a, b) for a, b in zip(ours, theirs, strict=True) if a != b]
    if not differing or not all(_pair(a, b) or _pair(b, a) for a, b in differing):
        return None
    return "odd teen" if has_odd_teen(other) and not has_odd_teen(best) else "teen"


def _pair(teen: float, tens: float) -> bool:
    """15 and 50 as degrees, 1.15 and 1.50 or 15 and 0.50 as dioptres; signs and hundreds alike."""
    if teen * tens < 0:
        return False
    return any(_spoken_alike(abs(teen) * a, abs(tens) * b) for a, b in ((1, 1), (100, 100), (1, 100)))


def _spoken_alike(teen: float, tens: float) -> bool:
    hundreds_alike = teen // 100 == tens // 100
    return hundreds_alike and TEENS.get(round(teen % 100, 6)) == round(tens % 100, 6)  # type: ignore[call-overload]


def _numbers(data: Any) -> list[float]:
    if isinstance(data, dict):
        return [number for value in data.values() for number in _numbers(value)]
    return [float(data)] if isinstance(data, int | float) and not isinstance(data, bool) else []
