"""A typed line to what it can say, or why it says nothing."""

from dataclasses import dataclass
from functools import cache

from rapidfuzz import process
from rapidfuzz.distance import DamerauLevenshtein

from voicelog.errors import VoicelogError
from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.grammar import LINE_RULE, Grammar
from voicelog.phrases.matcher import Matcher, Meanings, tokenise
from voicelog.phrases.plainest import cost

# Numbers, signs and eyes are never matched loosely: one letter turns "fifty" into "fifteen", or an eye over.
_EXACT_RULES = ("digit", "sign", "eye", "magnitude", "axis", "distance", "direction")
_ANSWERS = "answers_"
TYPED = (Layer.WRITTEN, Layer.TYPED)
"""The layers that a typed line may use."""


class NotAPhraseError(VoicelogError):
    """A line is no phrase of the grammar; says where it goes wrong and what may have been meant."""


@dataclass(frozen=True, slots=True)
class Understood:
    """A line and what it can say, likeliest first; more than one reading means that it must be asked about.

    `rule` is the one that the line is a phrase of.
    """

    text: str
    readings: tuple[Meanings, ...]
    rule: str


class LineReader:
    """Understands lines of one rule of a grammar, or of several, with a space between.

    Of several the answers to a question (`answers_...`) go first; of the others, the one that needs fewer entries, and
    then the one named first.
    """

    def __init__(self, grammar: Grammar, rule: str = LINE_RULE, *layers: Layer) -> None:
        self._grammar = grammar
        self._matchers = {
            name: Matcher(grammar.walker(name, *layers), words_of(grammar, "telling"))
            for name in grammar.named(rule)
        }

    def understand(self, line: str) -> Understood:
        """What `line` can say. Raises NotAPhraseError when it is no phrase."""
        tokens = tokenise(line, self._grammar.language)
        found: list[Understood] = []
        for rule, matcher in self._matchers.items():
            readings = tuple(each for each in matcher.readings(tokens) if not self._is_no_note(each))
            if readings:
                found.append(Understood(line.strip(), readings, rule))
                if rule.startswith(_ANSWERS):
                    break
        if found:
            return min(found, key=lambda each: cost(each.readings[0])[0])
        raise NotAPhraseError(self._why_not(line, tokens))

    def _is_no_note(self, reading: Meanings) -> bool:
        """ "Note to self" is none, nor is "make a note of that"."""
        texts = [each.text for each in reading if isinstance(each, say.Note) and each.text]
        return any(text.split()[0] in words_of(self._grammar, "no_note") for text in texts)

    def _why_not(self, line: str, tokens: tuple[Token, ...]) -> str:
        matcher = max(self._matchers.values(), key=lambda each: each.longest_start(tokens))
        known = matcher.longest_start(tokens)
        if not tokens:
            return "the line is empty"
        if known == len(tokens):
            return f"{line.strip()!r} is not finished"
        wrong = tokens[known].text
        message = f"{line.strip()!r} is not understood from {wrong!r} on"
        meant = self._meant(wrong, matcher.next_words(tokens[:known]))
        if meant is not None:
            message += f"; did you mean {meant!r}?"
        return message

    def _meant(self, wrong: str, expected: frozenset[str]) -> str | None:
        """The nearest word that could stand there; none where that is a number, sign, axis or eye."""
        if not wrong.isalpha() or wrong in expected:
            return None
        words = sorted(expected, key=lambda word: (word not in exact_words(self._grammar), word))
        near = process.extractOne(wrong, words, scorer=DamerauLevenshtein.distance, score_cutoff=2)
        if near is None or near[0] in exact_words(self._grammar) or near[1] >= len(wrong) / 2:
            return None
        return near[0]


@cache
def exact_words(grammar: Grammar) -> frozenset[str]:
    """The words of numbers, signs, axes and eyes, which are never matched loosely."""
    return frozenset().union(*(words_of(grammar, rule) for rule in _EXACT_RULES))


@cache
def words_of(grammar: Grammar, rule: str) -> frozenset[str]:
    """All words of a rule; none when the grammar has no such rule, as one of another language need not."""
    if rule not in grammar.rules:
        return frozenset()
    words: set[str] = set()
    walker = grammar.walker(rule)
    todo, seen = [walker.start], {walker.start}
    while todo:
        for token, targets in walker.ways(todo.pop()).targets.items():
            words.add(token.text)
            fresh = targets - seen
            seen |= fresh
            todo.extend(fresh)
    return frozenset(words)
