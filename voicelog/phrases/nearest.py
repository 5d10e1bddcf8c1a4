"""The phrase nearest to a line that is none: with one word put right, or with words left out at its edges.

Words that tell something (numbers, signs, axes, eyes) are never changed, left out or put in.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from rapidfuzz.distance import DamerauLevenshtein

from voicelog.phrases.automaton import Token
from voicelog.phrases.grammar import Grammar
from voicelog.phrases.neighbours import Neighbours, neighbours

Line = tuple[Token, ...]

_WORDS_BACK = 4  # a line may have gone wrong so many words before it is noticed
_MOST_TRIED = 400
_INSERTED, _LEFT_OUT, _UNLIKE = 1.2, 1.0, 1.1
_FAR = 0.5  # a word that is less unlike another is taken for it misspelt
_WORTH = 10.0  # how much of a log weight a distance is worth


@dataclass(frozen=True, slots=True)
class Kept:
    """Words that are left as they are.

    `never` are also never put in, nor is anything for a word much like them; `only_misspelt` are put in only for a word
    much like them. `repairs` may be changed and left out, but are never put in: they make a value another.
    """

    never: frozenset[str]
    only_misspelt: frozenset[str]
    repairs: frozenset[str] = frozenset()

    def keep(self, token: Token) -> bool:
        """Whether a word of a line stays in it."""
        return not token.text.isalpha() or token.text in self.never or token.text in self.only_misspelt


def nearest_phrase(
    grammar: Grammar,
    rule: str,
    tokens: Line,
    known: int,
    words: Kept,
    log_weight: Callable[[Line], float | None],
) -> Line | None:
    """The nearest phrase of a rule, or None.

    `known`: how many leading words begin some phrase. `log_weight` tells how likely a line is said (base e), None when
    it is no phrase: of changes as far from the line, the likelier phrase is taken.
    """
    beside = _beside(grammar, rule)
    if known < len(tokens) and _may_be_telling(beside, tokens[known], words):
        return None
    tried = sorted(set(_changed(beside, tokens, known, words)), key=str)
    tried.sort(key=lambda each: each[0])
    best: tuple[float, Line] | None = None
    for distance, line in tried[:_MOST_TRIED]:
        if best is not None and distance >= _FAR > best[0]:
            break
        weight = log_weight(line)
        if weight is not None:
            score = distance if distance < _FAR else _FAR + _WORTH * distance - weight
            best = min(best or (score, line), (score, line), key=lambda each: each[0])
    if best is not None:
        return best[1]
    return next((line for line in _without_edges(tokens, words) if log_weight(line) is not None), None)


def _may_be_telling(beside: Neighbours, token: Token, words: Kept) -> bool:
    """Whether a word is likest to a number, sign, axis or eye, misspelt: then nothing is put in its place."""
    if words.keep(token):
        return False
    near = min((_distance(token.text, each) for each in words.never), default=_UNLIKE)
    other = min((_distance(token.text, each) for each in beside.words - words.never), default=_UNLIKE)
    return near < min(other, _FAR)


_beside = cache(neighbours)


@cache
def _after(beside: Neighbours) -> dict[str, frozenset[str]]:
    found: dict[str, set[str]] = {}
    for one, other in beside.pairs:
        found.setdefault(one, set()).add(other)
    return {word: frozenset(words) for word, words in found.items()}


def _changed(beside: Neighbours, tokens: Line, known: int, words: Kept) -> Iterator[tuple[float, Line]]:
    """Lines with one word more, less or other, each with how far it is from this one."""
    for place in range(max(0, known - _WORDS_BACK), min(known, len(tokens) - 1) + 1):
        head, word, tail = tokens[:place], tokens[place], tokens[place + 1 :]
        if not words.keep(word):
            yield _LEFT_OUT, (*head, *tail)
            for other in _between(beside, head, tail, words):
                far = _distance(word.text, other)
                if far < _FAR or other not in words.only_misspelt:
                    yield far, (*head, Token(other), *tail)
    for place in range(max(0, known - _WORDS_BACK), min(known, len(tokens)) + 1):
        head, tail = tokens[:place], tokens[place:]
        for other in _between(beside, head, tail, words):
            if other not in words.only_misspelt:
                yield _INSERTED, (*head, Token(other), *tail)


def _distance(word: str, other: str) -> float:
    near = DamerauLevenshtein.normalized_distance(word, other)
    return near if near < _FAR else _UNLIKE


def _between(beside: Neighbours, head: Sequence[Token], tail: Sequence[Token], kept: Kept) -> list[str]:
    """Words that may stand between two others."""
    after = _after(beside)
    before_word = head[-1].text if head else None
    if before_word is None:
        words: Iterable[str] = beside.first
    else:
        words = after.get(before_word, frozenset())
    if tail and tail[0].text.isalpha():
        words = (word for word in words if tail[0].text in after.get(word, ()))
    elif not tail:
        words = (word for word in words if word in beside.last)
    return sorted(word for word in words if word not in kept.never | kept.repairs and word.isalpha())


def _without_edges(tokens: Line, words: Kept) -> Iterator[Line]:
    """What is left when words that tell nothing are left out before and behind, the longest first."""
    first = next((place for place, token in enumerate(tokens) if words.keep(token)), len(tokens))
    last = next((place for place in range(len(tokens), 0, -1) if words.keep(tokens[place - 1])), 0)
    spans = [
        (start, end) for start in range(first + 1) for end in range(last, len(tokens) + 1) if start < end
    ]
    for start, end in sorted(spans, key=lambda span: span[0] - span[1]):
        if (start, end) != (0, len(tokens)):
            yield tokens[start:end]
