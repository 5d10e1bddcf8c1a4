"""A line of words, typed or heard, to the meanings it can have."""

from dataclasses import dataclass
from functools import cache

from rapidfuzz import process
from rapidfuzz.distance import DamerauLevenshtein

from voicelog.errors import VoicelogError
from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases.building import build
from voicelog.phrases.grammar import LINE_RULE, Grammar
from voicelog.phrases.matcher import Matcher, tokenise
from voicelog.phrases.meanings import Meaning

# Numbers, signs and eyes are never matched loosely: one letter turns "fifty" into "fifteen", or an eye over.
_EXACT_RULES = ("digit", "sign", "eye", "magnitude", "axis", "distance", "direction")
TYPED = (Layer.WRITTEN, Layer.TYPED)
"""The layers that a typed line may use."""


class NotAPhraseError(VoicelogError):
    """A line is no phrase of the grammar; says where it goes wrong and what may have been meant."""


@dataclass(frozen=True, slots=True)
class Understood:
    """A line with its readings, likeliest first; more than one means that it must be asked about.

    A reading is all that the line says, in order. `rule` is the one that the line is a phrase of.
    """

    text: str
    readings: tuple[tuple[Meaning, ...], ...]
    log_weight: float
    rule: str


class LineReader:
    """Understands lines of one rule of a grammar, or of several (with a space between), the first that fits."""

    def __init__(self, grammar: Grammar, rule: str = LINE_RULE, *layers: Layer) -> None:
        self._grammar = grammar
        self._matchers = {name: Matcher(grammar.walker(name, *layers)) for name in rule.split()}

    def understand(self, line: str) -> Understood:
        """The readings of `line`. Raises NotAPhraseError when it has none."""
        tokens = tokenise(line)
        for rule, matcher in self._matchers.items():
            parses = matcher.parses(tokens)
            if parses:
                readings = dict.fromkeys(build(rule, parse.value) for parse in parses)
                return Understood(line.strip(), _plainest(tuple(readings)), parses[0].log_weight, rule)
        raise NotAPhraseError(self._why_not(line, tokens))

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


def _plainest(readings: tuple[tuple[Meaning, ...], ...]) -> tuple[tuple[Meaning, ...], ...]:
    """The readings with the fewest entries: words that can belong together do."""
    fewest = min(len(each) for each in readings)
    return tuple(each for each in readings if len(each) == fewest)


@cache
def exact_words(grammar: Grammar) -> frozenset[str]:
    """The words of numbers, signs, axes and eyes, which are never matched loosely."""
    words: set[str] = set()
    for rule in _EXACT_RULES:
        if rule not in grammar.rules:
            continue  # a grammar of another language need not have them all
        walker = grammar.walker(rule)
        todo, seen = [walker.start], {walker.start}
        while todo:
            for token, steps in walker.ways(todo.pop()).by_token.items():
                words.add(token.text)
                fresh = {step.target for step in steps} - seen
                seen |= fresh
                todo.extend(fresh)
    return frozenset(words)
