"""Words that tell nothing, passed over where a line is no phrase with them: "streak vertical i make that plus two".

Which words these are is a closed list of the language, the rule `idle`: no number, sign, axis or eye, no word of doubt
or denial, and none that would tell another thing elsewhere is among them. A word inside a number is never passed over:
"plus one it's fifty" stays unclear.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations

from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Token
from voicelog.phrases.matcher import Matcher, Meanings
from voicelog.phrases.plainest import powers

_MOST = 4
_TELLS_LITTLE = (
    say.Note,
    say.Move,
    say.LooseWhere,
    say.LooseAxis,
    say.LooseSign,
    say.Answer,
    say.Habit,
    say.Claim,
    say.Scope,
)


@dataclass(frozen=True, slots=True)
class Words:
    """The words of a language that may be passed over, and those that make numbers and signs."""

    idle: frozenset[str]
    of_numbers: frozenset[str]


@dataclass(frozen=True, slots=True)
class Passed:
    """What a line can say with some words passed over, and a line without them; `sure` when it tells enough so."""

    readings: tuple[Meanings, ...]
    kept: tuple[Token, ...]
    sure: bool


def passing_over(matcher: Matcher, tokens: Sequence[Token], words: Words) -> Passed | None:
    """What a line can say with as few words passed over as can be; None where four are not enough."""
    passable = list(_passable(tokens, words))
    if not passable or not matcher.may_end_without(tokens, frozenset(passable)):
        return None
    for count in range(1, min(_MOST, len(passable), len(tokens) - 1) + 1):
        found: dict[Meanings, tuple[Token, ...]] = {}
        for left_out in combinations(passable, count):
            kept = tuple(token for place, token in enumerate(tokens) if place not in left_out)
            for meanings in matcher.readings(kept):
                found.setdefault(meanings, kept)
        if found:
            return Passed(tuple(found), next(iter(found.values())), all(map(_tells_enough, found)))
    return None


def _tells_enough(reading: Meanings) -> bool:
    """Whether the words that are left can hardly be said of another thing, as a number without a sign can."""
    if any(isinstance(each, _TELLS_LITTLE) for each in reading):
        return False
    # Words between two entries may well have told which of them counts: "plus one, she's plus two".
    if sum(not isinstance(each, say.Eye) for each in reading) > 1:
        return False
    return all(power.sign is not None or not power.size_d for each in reading for power in powers(each))


def _passable(tokens: Sequence[Token], words: Words) -> Iterator[int]:
    """The places of words that may be passed over."""
    for place, token in enumerate(tokens):
        if token.text not in words.idle:
            continue
        before = next((each for each in reversed(tokens[:place]) if each.text not in words.idle), None)
        behind = next((each for each in tokens[place + 1 :] if each.text not in words.idle), None)
        beside = {each.text for each in (before, behind) if each is not None}
        inside = len(beside) == 2 and beside <= words.of_numbers
        begins = token.text in words.of_numbers and bool(beside & words.of_numbers)  # "two and a ..."
        if not inside and not begins:
            yield place
