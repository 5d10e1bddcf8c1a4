"""Accept, ask or ignore what the network of letters heard.

Its probabilities are of whole phrases: an unclear sound, a word that is no word of the phrase and a word left out all
cost. So no words are counted here, as they are for a recogniser of words (`decision.py`). What is looked at:

* the score of the whole phrase against the letters that fit best, which tells other talk: it grows with the length;
* how well each word fits, less being allowed to words that tell something (numbers, signs, eyes, motions, doubts);
* the margin before the next meaning.
"""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.misheard import has_odd_axis, misheard_rival
from voicelog.phrases.language import Language
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.outcome import Outcome


@dataclass(frozen=True, slots=True)
class LetterLimits:
    """Limits, log probabilities (base e); each is stricter the higher it is. The fit of a word is 0 at best."""

    ask_score: float  # a score below this, and
    ask_score_a_letter: float  # this for each letter, is other talk
    ask_margin: float  # with a smaller margin than this, a third of that for each letter is
    accept_margin: float
    teen_margin: float  # instead, where the next meaning differs by -teen and -ty alone
    accept_fit: float  # of each word
    telling_fit: float  # of each word that tells something
    answer_score: float  # a lone answer needs this score, and
    answer_margin: float  # this margin
    agreed_margin: float  # instead of the margins above, where a second listener agrees, and
    agreed_fit: float  # this instead of the fits


@cache
def default_letter_limits() -> LetterLimits:
    """The calibrated limits that are shipped."""
    data = tomllib.loads((files("voicelog.hearing") / "letter_limits.toml").read_text(encoding="utf-8"))
    return LetterLimits(**data["letters"])


def decide_letters(hearing: Hearing, language: Language, limits: LetterLimits) -> Outcome:
    """What becomes of a hearing with words."""
    score, margin = hearing.score, hearing.margin
    if score is None or margin is None:
        return "ignored"
    if score < _least_score(hearing, margin, limits):
        return "ignored"
    best = hearing.hypotheses[0].meanings
    if has_odd_axis(best, language):
        return "asked"
    if is_answer(best):
        return "accepted" if score >= limits.answer_score and margin >= limits.answer_margin else "asked"
    if hearing.second_opinion is not None:
        agreed = hearing.second_opinion > 0 and _fits(hearing, limits.agreed_fit, limits.agreed_fit)
        return "accepted" if agreed and margin >= limits.agreed_margin else "asked"
    clear = margin >= _needed(hearing, language, limits)
    return "accepted" if clear and _fits(hearing, limits.accept_fit, limits.telling_fit) else "asked"


def _least_score(hearing: Hearing, margin: float, limits: LetterLimits) -> float:
    """The score that a phrase of this length needs to be asked about: talk that is like none has no clear best."""
    letters = sum(len(word.text) for word in hearing.words)
    share = 1.0 if margin >= limits.ask_margin else 1 / 3
    return limits.ask_score + limits.ask_score_a_letter * letters * share


def is_answer(meanings: Meanings) -> bool:
    """Whether a question is answered, and nothing else said: yes, no, say again."""
    return all(each.kind == "answer" for each in meanings)


def _fits(hearing: Hearing, fit: float, telling_fit: float) -> bool:
    return all(-word.misfit >= (telling_fit if word.telling else fit) for word in hearing.words)


def _needed(hearing: Hearing, language: Language, limits: LetterLimits) -> float:
    if hearing.rival is None:
        return limits.accept_margin
    rival = misheard_rival(hearing.hypotheses[0].meanings, hearing.rival.meanings, language)
    return limits.accept_margin if rival is None else limits.teen_margin
