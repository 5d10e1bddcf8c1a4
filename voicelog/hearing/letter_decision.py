"""Accept, ask or ignore what the network of letters heard.

Its probabilities are of whole phrases: an unclear sound, a word that is no word of the phrase and a word left out all
cost. So there is no counting of words here. What is looked at:

* the score of the whole phrase against the letters that fit best, which tells other talk: it grows with the length;
* the misfit of each word, less being allowed to words that tell something (numbers, signs, eyes, motions, doubts);
* the margin before the next meaning.
"""

from dataclasses import dataclass

from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.misheard import has_odd_axis, misheard_rival
from voicelog.phrases.language import Language
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.outcome import Outcome


@dataclass(frozen=True, slots=True)
class LetterLimits:
    """Limits, log probabilities (base e)."""

    ask_score: float  # a score below this, and
    ask_score_a_word: float  # this for each word, is other talk
    accept_margin: float
    teen_margin: float  # instead, where the next meaning differs by -teen and -ty alone
    accept_misfit: float  # of a word
    telling_misfit: float  # of a word that tells something
    answer_score: float  # a lone answer needs this score, and
    answer_margin: float  # this margin
    agreed_margin: float  # instead of the margins above, where a second listener agrees, and
    agreed_misfit: float  # this instead of both misfits


def decide_letters(hearing: Hearing, language: Language, limits: LetterLimits) -> Outcome:
    """What becomes of a hearing with words."""
    score, margin = hearing.score, hearing.margin
    if score is None or margin is None or not hearing.words:
        return "ignored"
    if score < limits.ask_score + limits.ask_score_a_word * len(hearing.words):
        return "ignored"
    best = hearing.hypotheses[0].meanings
    if has_odd_axis(best, language):
        return "asked"
    if is_answer(best):
        return "accepted" if score >= limits.answer_score and margin >= limits.answer_margin else "asked"
    if hearing.second_opinion is not None:
        agreed = hearing.second_opinion > 0 and _fits(hearing, limits.agreed_misfit, limits.agreed_misfit)
        return "accepted" if agreed and margin >= limits.agreed_margin else "asked"
    clear = margin >= _needed(hearing, language, limits)
    return "accepted" if clear and _fits(hearing, limits.accept_misfit, limits.telling_misfit) else "asked"


def is_answer(meanings: Meanings) -> bool:
    """Whether a question is answered, and nothing else said: yes, no, say again."""
    return all(each.kind == "answer" for each in meanings)


def _fits(hearing: Hearing, misfit: float, telling_misfit: float) -> bool:
    return all(word.misfit <= (telling_misfit if word.telling else misfit) for word in hearing.words)


def _needed(hearing: Hearing, language: Language, limits: LetterLimits) -> float:
    if hearing.rival is None:
        return limits.accept_margin
    rival = misheard_rival(hearing.hypotheses[0].meanings, hearing.rival.meanings, language)
    return limits.accept_margin if rival is None else limits.teen_margin
