"""Accept, ask or ignore: the one place where the recogniser's figures become an outcome.

A score is the log probability of the best meaning, judged against the best transcript of the same sound without a
grammar: short phrases score high by being short, so an absolute figure would let other talk in. For the same reason
the phrase must account for about as many words as that transcript has. The margin is how much likelier the best
meaning is than the next different one. The limits are calibrated, not typed in by hand: they
lie in `limits.toml` with what made them.

All this is for recognisers of words. What the network of letters heard is judged in `letter_decision.py`.
"""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.letter_decision import LetterLimits, decide_letters, default_letter_limits
from voicelog.hearing.misheard import has_odd_axis, misheard_rival
from voicelog.phrases.language import Language
from voicelog.phrases.matcher import tokenise
from voicelog.phrases.meanings import Reading
from voicelog.phrases.outcome import Outcome


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits on scores and margins, log probabilities (base e)."""

    accept_score: float
    accept_margin: float
    ask_score: float
    teen_margin: float  # instead of accept_margin, where the next meaning differs by -teen and -ty alone
    odd_teen_margin: float  # the same, where the next meaning is an axis such as 16, hardly ever meant
    agree_opinion: float  # a second listener agrees from here on (its own log scale); else it is asked
    agreed_margin: float  # instead of the margins above, where a second listener agrees


@cache
def default_limits() -> Limits:
    """The calibrated limits that are shipped."""
    data = tomllib.loads((files("voicelog.hearing") / "limits.toml").read_text(encoding="utf-8"))
    return Limits(**data["limits"])


AnyLimits = Limits | LetterLimits


def decide(hearing: Hearing, language: Language, limits: AnyLimits | None = None) -> Outcome:
    """Whether the best meaning is sure enough to be entered, doubtful enough to be asked about, or other talk.

    A hearing that tells how well each word fits is of the network of letters. Limits that are for the other kind of
    hearing are left alone: those that are shipped count.
    """
    if hearing.words:
        own = limits if isinstance(limits, LetterLimits) else default_letter_limits()
        return decide_letters(hearing, language, own)
    return _decide_words(hearing, language, limits if isinstance(limits, Limits) else default_limits())


def _decide_words(hearing: Hearing, language: Language, limits: Limits) -> Outcome:
    score, margin = hearing.score, hearing.margin
    if score is None or margin is None or score < limits.ask_score:
        return "ignored"
    surplus = _surplus_words(hearing, language)
    if surplus > _ASK_SURPLUS:
        return "ignored"
    if surplus > 0 and _leaves_out_the_lens(hearing):
        return "asked"
    if hearing.second_opinion is not None and hearing.second_opinion < limits.agree_opinion:
        return "asked"
    clear = (
        score >= limits.accept_score
        and margin >= _needed(hearing, language, limits)
        and surplus <= _ACCEPT_SURPLUS
    )
    if clear and not has_odd_axis(hearing.hypotheses[0].meanings, language):
        return "accepted"
    return "asked"


def is_close(hearing: Hearing) -> bool:
    """Whether what is left out was as good a match as what is asked about."""
    return hearing.score is not None and hearing.score >= default_limits().ask_score


def _leaves_out_the_lens(hearing: Hearing) -> bool:
    """A reading without a lens, where more words were spoken than it explains: the lens may be among them."""
    best = hearing.hypotheses[0].meanings
    return any(isinstance(each, Reading) and each.lens is None for each in best)


def _needed(hearing: Hearing, language: Language, limits: Limits) -> float:
    """The margin that the best meaning needs over the next one."""
    if hearing.second_opinion is not None:
        return limits.agreed_margin
    if hearing.rival is None:
        return limits.accept_margin
    misheard = misheard_rival(hearing.hypotheses[0].meanings, hearing.rival.meanings, language)
    if misheard is None:
        return limits.accept_margin
    return limits.odd_teen_margin if misheard == "odd" else limits.teen_margin


# Words of the free transcript that the phrase leaves unexplained, in lengths of the phrase.
_ACCEPT_SURPLUS = 0.34
_ASK_SURPLUS = 1.0
_SPARE_WORDS = 1


def _surplus_words(hearing: Hearing, language: Language) -> float:
    said = len(tokenise(hearing.hypotheses[0].text, language))
    free = len(tokenise(hearing.free_text, language))
    # A phrase likelier than the free transcript itself may leave one word more.
    spare = _SPARE_WORDS + ((hearing.score or 0.0) > 0)
    return max(0, free - said - spare) / max(said, 1)
