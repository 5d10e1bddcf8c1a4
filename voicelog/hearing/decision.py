"""Accept, ask or ignore: the one place where the recogniser's figures become an outcome.

A score is the log probability of the best meaning, judged against the best transcript of the same sound without a
grammar: short phrases score high by being short, so an absolute figure would let other talk in. The margin is how
much likelier the best meaning is than the next different one. The limits are calibrated, not typed in by hand: they
lie in `limits.toml` with what made them.
"""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from voicelog.exam.events import Outcome
from voicelog.hearing.engines.protocol import Hearing


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits on scores and margins, log probabilities (base e)."""

    accept_score: float
    accept_margin: float
    ask_score: float


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
    if score >= limits.accept_score and margin >= limits.accept_margin:
        return "accepted"
    return "asked"
