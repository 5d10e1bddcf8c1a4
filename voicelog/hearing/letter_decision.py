"""Accept, ask or ignore what the network of letters heard.

Its probabilities are of whole phrases: an unclear sound, a word that is no word of the phrase and a word left out all
cost. So no words are counted here, as they are for a recogniser of words (`decision.py`). What is looked at:

* the score of the whole phrase against the letters that fit best, which tells other talk: it grows with the length;
* how well each word fits, less being allowed to words that tell something (numbers, signs, eyes, motions, doubts);
* the margin before the next meaning, a larger one where that is of another number, sign, eye or motion alone;
* how long somebody spoke without a letter being heard.

Alone, the letters are trusted where they found no rival at all, or only one far behind a phrase that fits as well as
any letters do. With a judge (`engines/consulting.py`) the margin
is that of both, and beside it count how much the judge itself prefers the phrase to the others, how likely it finds
it against what it heard without them, and how sure it is of each number, sign, eye and motion, whether or not the
letters found a rival there.
"""

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.misheard import differs_gravely, has_odd_axis
from voicelog.phrases.language import Language
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.outcome import Outcome


@dataclass(frozen=True, slots=True)
class LetterLimits:
    """Limits, log probabilities (base e); each is stricter the higher it is. The fit of a word is 0 at best."""

    ask_score: float  # a score below this, and
    ask_score_a_letter: float  # this for each letter, is other talk
    ask_margin: float  # with a smaller margin than this, a third of that for each letter is
    sure_score_a_letter: float  # a score below this for each letter, and below ask_score, is not sure,
    seconded_score_a_letter: float  # nor below this, where a judge heard the same and the margin is clear
    accept_margin: float  # of the letters alone; where no judge was asked
    alone_margin: float  # this is enough,
    alone_score: float  # if the phrase is so likely against the letters that fit best
    accept_fit: float  # of each word
    telling_fit: float  # of each word that tells something
    accept_score_a_letter: (
        float  # so likely must what the letters alone leave clear be to a judge, if there is one
    )
    answer_score: float  # a lone answer needs this score, and
    answer_margin: float  # this margin
    agreed_margin: float  # of both listeners, and
    grave_margin: (
        float  # instead, where the next meaning differs by a number, a sign, an eye or a motion alone
    )
    agreed_opinion: float  # so much must the judge itself prefer it,
    clear_margin: float  # but for this margin it need only not prefer another
    apart: float  # so much must it prefer each number, sign, eye and motion to others in their places
    agreed_score: float  # so likely must it be to the judge, against what that heard itself, and
    agreed_score_a_letter: float  # this for each letter: little is sure of one short word
    agreed_fit: float  # instead of the fits
    agreed_telling_fit: float
    same_score: float  # from here on the judge itself heard about the same,
    same_score_a_letter: float  # and for each letter of a phrase that is not clear to the first
    odd_score_a_letter: float  # of an axis that is seldom meant, where it heard not about the same


_SAME_TALK = 2.5
"""What the judge itself heard is other talk only so many times further from the letters that fit best."""
_UNEXPLAINED_S = 0.35
"""So long may somebody speak, about as loud, without a letter.

On tuning voices no phrase of one voice has more in quiet, 7 in 100 in noise of 10 dB; of second halves by another
voice, or by the same one up to 12 dB lower, 96 in 100 have.
"""
_MORE_LETTERS = 3
"""Letters that the judge may have heard beyond the phrase, where somebody spoke and the first heard no letter."""


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
    same = _is_to_the_judge(hearing, limits.same_score, limits)
    if score < _least_score(hearing, margin, limits) * (_SAME_TALK if same else 1.0):
        return "ignored"
    best = hearing.hypotheses[0].meanings
    if not _is_explained(hearing) or score < _least_sure_score(hearing, limits, same=same):
        return "asked"
    if has_odd_axis(best, language) and not _is_meant(hearing, limits, same=same):
        return "asked"
    if is_answer(best):
        return "accepted" if score >= limits.answer_score and margin >= limits.answer_margin else "asked"
    if hearing.second_apart is not None and hearing.second_apart < limits.apart:
        return "asked"
    sure = _letters_are_sure(hearing, limits) or (
        hearing.second_opinion is not None and _both_are_sure(hearing, limits)
    )
    return "accepted" if sure else "asked"


def is_worth_judging(hearing: Hearing, language: Language, limits: LetterLimits) -> bool:
    """Whether a judge could change what becomes of it: not where it is clearly other talk."""
    score, margin = hearing.score, hearing.margin
    if score is None or margin is None:
        return False
    if decide_letters(hearing, language, limits) != "ignored":
        return True
    return score >= _SAME_TALK * _least_score(hearing, margin, limits)


def is_answer(meanings: Meanings) -> bool:
    """Whether a question is answered, and nothing else said: yes, no, say again."""
    return all(each.kind == "answer" for each in meanings)


def _least_score(hearing: Hearing, margin: float, limits: LetterLimits) -> float:
    """The score that a phrase of this length needs to be asked about: talk that is like none has no clear best."""
    share = 1.0 if margin >= limits.ask_margin else 1 / 3
    return limits.ask_score + limits.ask_score_a_letter * _letters(hearing) * share


def _least_sure_score(hearing: Hearing, limits: LetterLimits, *, same: bool) -> float:
    """The score that a phrase of this length needs to be entered: less where the judge alone heard it well."""
    letters = _letters(hearing)
    seconded = (
        same
        and (hearing.second_score or 0.0) >= limits.same_score_a_letter * letters
        and (hearing.margin or 0.0) >= limits.clear_margin
    )
    each = limits.seconded_score_a_letter if seconded else limits.sure_score_a_letter
    return min(limits.ask_score, each * letters)


def _is_meant(hearing: Hearing, limits: LetterLimits, *, same: bool) -> bool:
    """Whether an axis that is seldom meant is sure all the same: the judge heard it too, and nothing comes near it."""
    heard_too = same or _is_to_the_judge(hearing, limits.odd_score_a_letter * _letters(hearing), limits)
    return (
        heard_too
        and (hearing.margin or 0.0) >= limits.clear_margin
        and (hearing.second_opinion or 0.0) >= limits.agreed_opinion
    )


def _letters(hearing: Hearing) -> int:
    return sum(len(word.text) for word in hearing.words)


def _is_explained(hearing: Hearing) -> bool:
    """Whether nobody spoke beside the phrase, as far as can be told; or the judge heard no more than the phrase."""
    if hearing.unexplained_s < _UNEXPLAINED_S:
        return True
    own = hearing.second_letters
    return own is not None and own <= _letters(hearing) + _MORE_LETTERS


def _is_to_the_judge(hearing: Hearing, score: float, limits: LetterLimits) -> bool:
    """Whether a judge was asked and finds the phrase so likely."""
    least = max(score, limits.agreed_score_a_letter * _letters(hearing))
    return hearing.second_score is not None and hearing.second_score >= least


def _letters_are_sure(hearing: Hearing, limits: LetterLimits) -> bool:
    """Whether the letters leave no rival, and a judge that was asked has not heard something else altogether.

    Where none was asked a rival may be nearer, if the letters are those of the phrase.
    """
    margin = hearing.margin or 0.0
    if not _fits(hearing, limits.accept_fit, limits.telling_fit):
        return False
    if hearing.second_score is None:
        alone = margin >= limits.alone_margin and (hearing.score or 0.0) >= limits.alone_score
        return alone or margin >= limits.accept_margin
    least = limits.accept_score_a_letter * _letters(hearing)
    return margin >= limits.accept_margin and hearing.second_score >= least


def _both_are_sure(hearing: Hearing, limits: LetterLimits) -> bool:
    margin, opinion = hearing.margin or 0.0, hearing.second_opinion or 0.0
    preferred = margin >= _needed(hearing, limits) and opinion >= limits.agreed_opinion
    return (
        (preferred or (margin >= limits.clear_margin and opinion >= 0.0))
        and _is_to_the_judge(hearing, limits.agreed_score, limits)
        and _fits(hearing, limits.agreed_fit, limits.agreed_telling_fit)
    )


def _fits(hearing: Hearing, fit: float, telling_fit: float) -> bool:
    return all(-word.misfit >= (telling_fit if word.telling else fit) for word in hearing.words)


def _needed(hearing: Hearing, limits: LetterLimits) -> float:
    rival = hearing.rival
    grave = rival is not None and differs_gravely(hearing.hypotheses[0].meanings, rival.meanings)
    return limits.grave_margin if grave else limits.agreed_margin
