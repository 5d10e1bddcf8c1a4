"""A typed line in the grammar's own words: "the beam at ninety" is "the streak at ninety".

What speakers say otherwise is a closed list beside the pieces (`pieces/reworded.jsgf`). A line that is no phrase as it
stands is tried with each of these put in place of the grammar's words, with words of courtesy left out, and without the
reason behind it ("because he's small"). The rest must be a phrase, word by word. No number, sign, eye or axis becomes
another one so, and a reason that names one makes it a question; one that denies or doubts is never left out.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import IntEnum
from itertools import product

from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Token
from voicelog.phrases.grammar import Grammar, load_pieces
from voicelog.phrases.in_order import ANSWERS, Found
from voicelog.phrases.matcher import Matcher, tokenise
from voicelog.phrases.no_order import NoOrder
from voicelog.phrases.pieces import ends
from voicelog.phrases.stepping import Stepper, stepper
from voicelog.phrases.word_sets import WordSets

_UNDONE_BY_NO_REASON = (
    say.Eye,
    say.WorkingDistance,
    say.WorkingLens,
    say.Reflex,
    say.Drops,
    say.Condition,
    say.Scratch,
    say.Tell,
)
"""What stands whatever the reason: a word of no list behind a power may undo it."""
_MOST_PLACES = 5
"""Places of a line that may be said otherwise; of each, both are tried."""


class Change(IntEnum):
    """What was done to words of a line."""

    REWORDED = 0
    LEFT_OUT = 1
    ASKED = 2
    REGIME = 3
    REASON = 4
    UNLISTED_REASON = 5
    TELLING_REASON = 6


@dataclass(frozen=True, slots=True)
class Reworded:
    """A line in other words, and what was done to it."""

    tokens: tuple[Token, ...]
    changes: frozenset[Change]
    many: int

    def may_say(self, found: Found, no_order: NoOrder) -> bool:
        """Whether what it says may be meant by the line: nothing that another person may say of many things."""
        of_answer = found.rule.startswith(ANSWERS)
        if of_answer and not self.changes <= {Change.REWORDED, Change.LEFT_OUT}:
            return False
        for reading in found.readings:
            if no_order.is_none(self.tokens, reading):
                return False
            if not of_answer and any(_is_of_many_things(each) for each in reading):
                return False
            if Change.REGIME in self.changes and not all(isinstance(each, say.Drops) for each in reading):
                return False
        return True

    def is_sure(self, found: Found) -> bool:
        """Whether no question is needed."""
        if not self.changes.isdisjoint((Change.ASKED, Change.TELLING_REASON)):
            return False
        told = [each for reading in found.readings for each in reading]
        if Change.UNLISTED_REASON in self.changes and not all(
            isinstance(each, _UNDONE_BY_NO_REASON) for each in told
        ):
            return False
        of_reason = not self.changes.isdisjoint((Change.REASON, Change.UNLISTED_REASON))
        return not (of_reason and all(isinstance(each, say.Eye) for each in told))


def _is_of_many_things(told: say.Meaning) -> bool:
    if isinstance(told, say.Answer):
        return told.answer != "again"
    return isinstance(told, say.LoosePower | say.LooseSign | say.LooseWhere | say.Place)


@dataclass(frozen=True, slots=True)
class _Part:
    start: int
    end: int
    change: Change
    words: tuple[Token, ...] = ()


class Rewording:
    """The other words of a language."""

    def __init__(self, grammar: Grammar, sets: WordSets) -> None:
        self._language = grammar.language
        self._sets = sets
        pieces = load_pieces(grammar.language)
        self._rules: list[tuple[Change, Stepper, Matcher]] = []
        self._opens: Stepper | None = None
        if pieces is None:
            return
        for rule, change in (
            ("reworded", Change.REWORDED),
            ("reworded_asked", Change.ASKED),
            ("left_out", Change.LEFT_OUT),
            ("regime_said", Change.REGIME),
        ):
            if rule in pieces.rules:
                self._rules.append((change, stepper(pieces, rule), Matcher(pieces.walker(rule))))
        if "reason_opens" in pieces.rules:
            self._opens = stepper(pieces, "reason_opens")

    def lines(self, tokens: Sequence[Token]) -> Iterator[Reworded]:
        """A line in other words, in the fewest of them first; never as it stands."""
        for cut, reason in self._without_reason(tokens):
            parts = self._parts(tokens[:cut])
            for chosen in sorted(product((False, True), repeat=len(parts)), key=sum):
                taken = [part for part, is_taken in zip(parts, chosen, strict=True) if is_taken]
                if not taken and not reason:
                    continue
                changes = frozenset(part.change for part in taken) | reason
                if words := _put_in(tokens[:cut], taken):
                    yield Reworded(words, changes, len(taken) + len(reason) * _MOST_PLACES)

    def _parts(self, tokens: Sequence[Token]) -> list[_Part]:
        """What may be said otherwise, the longest at each place, none within another."""
        found: list[_Part] = []
        at = 0
        while at < len(tokens) and len(found) < _MOST_PLACES:
            longest = max(self._from(tokens, at), key=lambda part: part.end, default=None)
            if longest is not None:
                found.append(longest)
            at = at + 1 if longest is None else longest.end
        return found

    def _from(self, tokens: Sequence[Token], at: int) -> Iterator[_Part]:
        for change, walked, matcher in self._rules:
            for end in ends(walked, tokens, at):
                if change in (Change.REWORDED, Change.ASKED):
                    (value,) = matcher.values(tokens[at:end])[:1]
                    yield _Part(at, end, change, tokenise(str(value), self._language))
                elif change is Change.REGIME or not self._is_within_number(tokens, at, end):
                    yield _Part(at, end, change)

    def _is_within_number(self, tokens: Sequence[Token], at: int, end: int) -> bool:
        """Whether numbers on both sides would be one without what stands between them."""
        if not at > 0 or end >= len(tokens):
            return False
        return self._sets.of_number(tokens[at - 1]) and self._sets.of_number(tokens[end])

    def _without_reason(self, tokens: Sequence[Token]) -> Iterator[tuple[int, frozenset[Change]]]:
        """Where the entry ends: with the line, or before a reason."""
        yield len(tokens), frozenset()
        if self._opens is None:
            return
        for at in range(1, len(tokens)):
            last = max(ends(self._opens, tokens, at), default=None)
            if last is None or last == len(tokens):
                continue
            words = {each.text for each in tokens[at:]}
            numbered = any(
                self._sets.of_number(each) and each.text not in self._sets.idle for each in tokens[last:]
            )
            if not numbered and words.isdisjoint(self._sets.doubt):
                yield at, frozenset({self._kind_of_reason(tokens[at:])})
            return

    def _kind_of_reason(self, words: Sequence[Token]) -> Change:
        """Whether a word of a reason may belong to an entry or undo it, or is of no list."""
        sets = self._sets
        if any(
            each.text in sets.exact | sets.doubt | sets.motion | sets.repairs | sets.telling for each in words
        ):
            return Change.TELLING_REASON
        listed = sets.known | sets.beside | sets.idle | sets.guarded
        return Change.REASON if all(each.text in listed for each in words) else Change.UNLISTED_REASON


def _put_in(tokens: Sequence[Token], parts: Sequence[_Part]) -> tuple[Token, ...]:
    words: list[Token] = []
    at = 0
    for part in parts:
        words += (*tokens[at : part.start], *part.words)
        at = part.end
    return (*words, *tokens[at:])
