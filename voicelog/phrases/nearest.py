"""The phrase nearest to a line that is none: with words passed over, and with one changed or put in.

Words that tell something (numbers, signs, axes, eyes, doubt, denial) are never passed over, changed or put in.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from functools import cache, cached_property, lru_cache
from heapq import merge

from voicelog.phrases.automaton import Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.nearby import Changes, Near, Nearby, Words, near
from voicelog.phrases.neighbours import Neighbours, neighbours
from voicelog.phrases.stepping import Stepper
from voicelog.phrases.word_sets import UNLIKE, WordSets, unlikeness

# In units of the grammar's weight (base e).
_IDLE, _UNKNOWN, _KNOWN, _TELLING = 3.0, 8.0, 11.0, 15.0
"""Passed over: an idle word, one that the grammar does not know, one that it knows, one that tells something."""
_INSTEAD, _PUT_IN = 11.0, 12.0
_MISSPELT = 10.0
"""For each whole word's letters."""
_WORDS_BACK = 4
"""A line may have gone wrong so many words before it is noticed."""
_SLACK = 2.0
_MOST = 34.0

_beside = cache(neighbours)


class Nearest:
    """Finds the phrases of some rules that are nearest to a line."""

    def __init__(self, grammar: Grammar, rule: str, sets: WordSets) -> None:
        self._grammar, self._rule = grammar, rule
        self._sets = sets
        self._only_misspelt = sets.protected - sets.names

    @cached_property
    def _beside(self) -> Neighbours:
        """Only where a line is no phrase: a second's work."""
        return _beside(self._grammar, self._rule)

    def lines(self, steppers: Iterable[Stepper], tokens: Sequence[Token]) -> Iterator[Near]:
        """Phrases near a line, the nearest first; none where a word in it is likest to one that must be exact."""
        if any(self._may_be_exact(token) for token in tokens):
            return iter(())
        found = [nearby for each in steppers if (nearby := self._nearby(each, tokens)) is not None]
        least = min((each.least for each in found), default=0.0)
        nearest = [each.phrases for each in found if each.least <= least + _SLACK]
        return merge(*nearest, key=lambda each: each.cost)

    def is_likely(self, tokens: Sequence[Token], phrase: Near) -> bool:
        """Whether a phrase is so near to a line that it is worth a question.

        What the line tells is in it, and it has no word that the line has not, but light ones and those misspelt there.
        """
        lost = [token.text for place, token in enumerate(tokens) if place not in phrase.kept]
        told = [tokens[place] for place in phrase.kept if self._tells(tokens[place])]
        light = self._sets.light | self._sets.idle
        named = {tokens[place].text for place in phrase.kept} & self._sets.names
        bare = all(self._sets.of_number(token) and not self._sets.is_sign(token) for token in told)
        weak = len(told) == 1 and told[0].text not in self._sets.motion
        if (
            (bare and not named)
            or (weak and not named and len(lost) > 1)
            or not self._sets.protected.isdisjoint(lost)
        ):
            return False
        added = Counter(phrase.words)
        added.subtract(tokens[place] for place in phrase.kept)
        if any(
            many > 0 and each.text not in light and not _is_one_of(each.text, lost)
            for each, many in added.items()
        ):
            return False
        return sum(word not in self._sets.idle for word in lost) <= len(phrase.kept)

    def _tells(self, token: Token) -> bool:
        """Whether a word is one of those of numbers, places, eyes, motions and lenses."""
        number = self._sets.of_number(token) and token.text not in self._sets.idle
        return number or token.text in self._sets.exact | self._sets.telling

    def _nearby(self, stepper: Stepper, tokens: Sequence[Token]) -> Nearby | None:
        line = self._sets.walked_over(tokens)
        known = stepper.longest_start(line)
        near_known = range(max(0, known - _WORDS_BACK), known + 1)
        passed = {
            place: cost for place, token in enumerate(tokens) if (cost := self._passing(token)) is not None
        }
        changeable = [
            each for each in near_known if each in passed and tokens[each].text not in self._sets.exact
        ]
        changes = Changes(
            passed,
            walked_over=line,
            of_numbers=[self._sets.of_number(token) for token in tokens],
            signs=[self._sets.is_sign(token) for token in tokens],
            instead={place: self._instead(tokens, place, passed) for place in changeable},
            between={place: self._between(tokens, place, passed) for place in near_known},
            weight=1.0,
            slack=_SLACK,
            most=_MOST,
        )
        return near(stepper, tokens, changes)

    def _kept(self, token: Token) -> bool:
        never = (
            token.text in self._sets.exact
            or token.text in self._sets.doubt
            or token.text in self._sets.motion
        )
        return never or not token.text.lstrip("'").isalpha()

    def _passing(self, token: Token) -> float | None:
        if token.text in self._sets.idle:
            return _IDLE
        if self._kept(token):
            return None
        if token.text in self._sets.protected:
            return _TELLING
        return _KNOWN if token.text in self._sets.known else _UNKNOWN

    def _may_be_exact(self, token: Token) -> bool:
        """Whether a word is likest to a number, sign, axis or eye, misspelt: then nothing is put in its place."""
        if token.text in self._sets.known or self._kept(token):
            return False
        return _is_likest(token.text, self._sets.exact, self._sets.known)

    def _instead(self, tokens: Sequence[Token], place: int, passed: dict[int, float]) -> Words:
        word = tokens[place].text
        found = {}
        for other in self._before(tokens, place + 1, passed):
            far = unlikeness(word, other)
            if far < UNLIKE:
                found[Token(other)] = _MISSPELT * far
            elif other not in self._only_misspelt:
                found[Token(other)] = _INSTEAD
        return found

    def _between(self, tokens: Sequence[Token], place: int, passed: dict[int, float]) -> Words:
        words = self._before(tokens, place, passed)
        return {Token(word): _PUT_IN for word in words if word not in self._only_misspelt}

    def _before(self, tokens: Sequence[Token], place: int, passed: dict[int, float]) -> frozenset[str]:
        """The words that may stand before a place of the line, or before what follows words that are passed over."""
        before = _may_stand_before(self._beside, self._sets)
        words: set[str] = set()
        for at in range(place, len(tokens)):
            token = tokens[at]
            words |= before.get(token.text if token.text.lstrip("'").isalpha() else _FIGURE, frozenset())
            if at not in passed:
                break
        else:
            words |= self._beside.last & before[_ANY]
        return frozenset(words)


def _is_one_of(word: str, misspelt: Iterable[str]) -> bool:
    return any(unlikeness(word, each) < UNLIKE for each in misspelt)


_FIGURE, _ANY = "0", ""


@cache
def _may_stand_before(beside: Neighbours, sets: WordSets) -> dict[str, frozenset[str]]:
    """For each word, those that may be put before it; for a figure or mark, those before any number."""
    mine = frozenset(
        word for word in beside.words if word.isalpha() and len(word) > 1 and word not in sets.exact
    )
    found: dict[str, set[str]] = {}
    for one, other in beside.pairs:
        if one in mine:
            found.setdefault(other, set()).add(one)
            if other in sets.numbers:
                found.setdefault(_FIGURE, set()).add(one)
    return {**{word: frozenset(words) for word, words in found.items()}, _ANY: mine}


@lru_cache(1000)
def _is_likest(word: str, some: frozenset[str], all_words: frozenset[str]) -> bool:
    here = min((unlikeness(word, each) for each in some), default=1.0)
    return here < UNLIKE and here < min((unlikeness(word, each) for each in all_words - some), default=1.0)
