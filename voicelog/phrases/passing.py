"""Words passed over where a line is no phrase with them: "streak vertical i make that plus two".

Of two kinds, both closed lists. The words of `idle` tell nothing wherever they stand. Light words of frames and those
of the room (`beside`) may be passed over where the rest is strong. A word of no list never is: "refused" behind a
power undoes it, and nobody can list all that does. A word inside a number is never passed over either: "plus one it's
fifty" stays unclear.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Token
from voicelog.phrases.in_order import RulesInOrder
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.nearby import Changes, near
from voicelog.phrases.strength import are_signed
from voicelog.phrases.word_sets import WordSets, slips

_IDLE, _OTHER = 1.0, 100.0
_MOST = 510.0
"""What is passed over costs at most this: five other words and ten idle ones."""
_MOST_LINES = 30
_MOST_OTHERS = 2
"""A line without more words than these, of no list, is asked about, however strong the rest."""
_LONG = 7
"""In a word of so many letters two may be wrong."""
_TELLS_LITTLE = (
    say.Note,
    say.Move,
    say.LooseWhere,
    say.LooseSign,
    say.Answer,
    say.Habit,
    say.Claim,
    say.Scope,
)


@dataclass(frozen=True, slots=True)
class Passed:
    """What a line can say with some words passed over; `sure` when it tells enough so."""

    readings: tuple[Meanings, ...]
    sure: bool


def passing_over(rules: RulesInOrder, rule: str, tokens: Sequence[Token], sets: WordSets) -> Passed | None:
    """What a line can say in a rule with as few words passed over as can be; None where that is no phrase."""
    passable = {place: cost for place, token in enumerate(tokens) if (cost := _cost(token, sets)) is not None}
    changes = Changes(
        passable,
        walked_over=sets.walked_over(tokens),
        of_numbers=[sets.of_number(token) for token in tokens],
        signs=[sets.is_sign(token) for token in tokens],
        most=_MOST,
    )
    nearby = near(rules.steppers[rule], tokens, changes)
    if nearby is None:
        return None
    lines = list(islice(nearby.phrases, _MOST_LINES + 1))
    found = tuple(dict.fromkeys(reading for each in lines for reading in rules.said(rule, each.words)))
    if not found or len(lines) > _MOST_LINES:
        return None
    others = nearby.least // _OTHER
    sure = all(
        _tells_enough(reading)
        and (not others or _is_strong(reading))
        and not rules.no_order.is_none(tokens, reading)
        for reading in found
    )
    return Passed(found, sure and others <= _MOST_OTHERS)


def _cost(token: Token, sets: WordSets) -> float | None:
    if token.text in sets.idle:
        return _IDLE
    known = token.text in sets.light | sets.beside
    return _OTHER if known and may_tell_nothing(token, sets) else None


def may_tell_nothing(token: Token, sets: WordSets) -> bool:
    """Whether a word that is not in the list of idle ones may be passed over.

    A word that the grammar does not know may; of those that it knows, the light ones alone.
    """
    word = token.text.lstrip("'")
    if not sets.guarded or not word.isalpha() or token.text in sets.protected:
        return False
    return token.text in sets.light if token.text in sets.known else not _may_be_misspelt(word, sets)


def _may_be_misspelt(word: str, sets: WordSets) -> bool:
    """Whether a word may be one that tells something, misspelt."""
    return any(slips(word, other) <= (1 if len(word) < _LONG else 2) for other in sets.protected)


def _tells_enough(reading: Meanings) -> bool:
    """Whether the words that are left can hardly be said of another thing, as a number without a sign can."""
    if any(isinstance(each, _TELLS_LITTLE) for each in reading):
        return False
    # Words between two entries may well have told which of them counts: "plus one, she's plus two".
    if sum(not isinstance(each, say.Eye) for each in reading) > 1:
        return False
    return are_signed(reading)


def _is_strong(reading: Meanings) -> bool:
    """Whether the words that are left are an entry whatever stood beside them: it names what its value is of."""
    (told,) = [each for each in reading if not isinstance(each, say.Eye)] or (None,)
    match told:
        case say.Reading(where=say.Where(), lens=say.Lens()) | say.Change():
            return True
        case say.Reading(where=say.Where(), motion="with" | "against"):
            return True
        case say.Acuity() | say.Spectacles() | say.Refined():
            return told.eye is not None or len(reading) > 1
        case _:
            return False
