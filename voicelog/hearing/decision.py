"""Accept, ask or ignore: the one place where the recogniser's figures become an outcome.

A score is the log probability of the best meaning, judged against the best transcript of the same sound without a
grammar: short phrases score high by being short, so an absolute figure would let other talk in. For the same reason
the phrase must account for about as many words as that transcript has. The margin is how much likelier the best
meaning is than the next different one. The limits are calibrated, not typed in by hand: they
lie in `limits.toml` with what made them.
"""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from voicelog.exam.completing import angles
from voicelog.exam.events import Outcome
from voicelog.hearing.engines.protocol import Hearing
from voicelog.phrases.matcher import tokenise
from voicelog.phrases.meanings import Meaning


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits on scores and margins, log probabilities (base e)."""

    accept_score: float
    accept_margin: float
    ask_score: float
    teen_margin: float  # instead of accept_margin, where the next meaning differs by -teen and -ty alone


@cache
def default_limits() -> Limits:
    """The calibrated limits that are shipped."""
    data = tomllib.loads((files("voicelog.hearing") / "limits.toml").read_text(encoding="utf-8"))
    return Limits(**data["limits"])


def decide(hearing: Hearing, limits: Limits | None = None) -> Outcome:
    """Whether the best meaning is sure enough to be entered, doubtful enough to be asked about, or other talk."""
    limits = limits or default_limits()
    score, margin = hearing.score, hearing.margin
    if score is None or margin is None or score < limits.ask_score:
        return "ignored"
    surplus = _surplus_words(hearing)
    if surplus > _ASK_SURPLUS:
        return "ignored"
    needed = limits.teen_margin if _differ_by_teen(hearing) else limits.accept_margin
    clear = score >= limits.accept_score and margin >= needed and surplus <= _ACCEPT_SURPLUS
    if clear and not _has_odd_teen(hearing.hypotheses[0].meaning):
        return "accepted"
    return "asked"


# Words of the free transcript that the phrase leaves unexplained, in lengths of the phrase.
_ACCEPT_SURPLUS = 0.5
_ASK_SURPLUS = 1.0
_SPARE_WORDS = 1


def _surplus_words(hearing: Hearing) -> float:
    said = len(tokenise(hearing.hypotheses[0].text))
    free = len(tokenise(hearing.free_text))
    return max(0, free - said - _SPARE_WORDS) / max(said, 1)


def _has_odd_teen(meaning: Meaning) -> bool:
    """An axis such as 16: sixty misheard, far likelier, since streak axes are read in fives.

    (Common practice, no source. Fifteen is not odd in that way; it has the margin above.)
    """
    return any(axis % 100 in (13, 14, 16, 17, 18, 19) for axis in angles(meaning))


_TEENS = {teen: 10 * (teen - 10) for teen in range(13, 20)}


def _differ_by_teen(hearing: Hearing) -> bool:
    """Whether the next meaning is the best one with fifteen for fifty or the like: the pair that is misheard most."""
    if len(hearing.hypotheses) < 2:
        return False
    best, next_best = (_numbers(each.meaning.model_dump(mode="json")) for each in hearing.hypotheses[:2])
    if len(best) != len(next_best):
        return False
    differing = [(a, b) for a, b in zip(best, next_best, strict=True) if a != b]
    return bool(differing) and all(_teen_pair(a, b) or _teen_pair(b, a) for a, b in differing)


def _teen_pair(teen: float, ty: float) -> bool:
    """15 and 50 as degrees, 1.15 and 1.50 or 15 and 0.50 as dioptres; signs and hundreds alike."""
    if teen * ty < 0:
        return False
    pairs = [(abs(teen), abs(ty)), (abs(teen) * 100, abs(ty) * 100), (abs(teen), abs(ty) * 100)]
    return any(
        round(a % 100, 6) in _TEENS and _TEENS[round(a % 100)] == round(b % 100, 6) and a // 100 == b // 100
        for a, b in pairs
    )


def _numbers(data: Any) -> list[float]:
    if isinstance(data, dict):
        return [number for value in data.values() for number in _numbers(value)]
    return [float(data)] if isinstance(data, int | float) and not isinstance(data, bool) else []
