"""A line of words, typed or heard, to the meanings it can have."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from pydantic import BaseModel
from rapidfuzz import process
from rapidfuzz.distance import DamerauLevenshtein

from voicelog.errors import VoicelogError
from voicelog.phrases.automaton import Layer, Token
from voicelog.phrases import meanings as say
from voicelog.phrases.building import build
from voicelog.phrases.grammar import LINE_RULE, Grammar
from voicelog.phrases.matcher import Matcher, tokenise
from voicelog.phrases.meanings import Meaning

# Numbers, signs and eyes are never matched loosely: one letter turns "fifty" into "fifteen", or an eye over.
_EXACT_RULES = ("digit", "sign", "eye", "magnitude", "axis", "distance", "direction")
_LARGEST_LENS_D = 40.0
_EIGHTHS = frozenset({0.0, 0.12, 0.125, 0.25, 0.37, 0.375, 0.5, 0.62, 0.625, 0.75, 0.87, 0.875})
_ANSWERS = "answers_"
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
    """Understands lines of one rule of a grammar, or of several, with a space between.

    Of several the answers to a question (`answers_...`) go first; of the others, the one that needs fewer entries, and
    then the one named first.
    """

    def __init__(self, grammar: Grammar, rule: str = LINE_RULE, *layers: Layer) -> None:
        self._grammar = grammar
        self._matchers = {
            name: Matcher(grammar.walker(name, *layers), words_of(grammar, "telling")) for name in rule.split()
        }

    def understand(self, line: str) -> Understood:
        """The readings of `line`. Raises NotAPhraseError when it has none."""
        tokens = tokenise(line)
        found: list[tuple[float, Understood]] = []
        for rule, matcher in self._matchers.items():
            parses = matcher.parses(tokens)
            if parses:
                readings = tuple(dict.fromkeys(build(rule, parse.value) for parse in parses))
                readings = tuple(each for each in readings if not self._is_no_note(each))
                if not readings:
                    continue
                cost = min(_cost(each) for each in readings)
                plainest = tuple(each for each in readings if _cost(each) == cost)
                found.append((cost, Understood(line.strip(), plainest, parses[0].log_weight, rule)))
                if rule.startswith(_ANSWERS):
                    return found[-1][1]
        if found:
            return min(found, key=lambda each: each[0])[1]
        raise NotAPhraseError(self._why_not(line, tokens))

    def _is_no_note(self, reading: tuple[Meaning, ...]) -> bool:
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


def _cost(reading: tuple[Meaning, ...]) -> float:
    """What speaks against a reading of a line that has others.

    Words that can belong together do; nothing is put right where it need not be; and "one eighty", which is no lens, is
    a place where it can be one.
    """
    no_lens = sum(_is_no_lens(power) for meaning in reading for power in _powers(meaning))
    mended = sum(isinstance(meaning, say.Correction) for meaning in reading)
    return len(reading) + 0.5 * no_lens + 0.25 * mended


def _powers(part: object) -> Iterator[say.Power]:
    if isinstance(part, say.Power):
        yield part
    elif isinstance(part, BaseModel):
        for _, value in part:
            yield from _powers(value)
    elif isinstance(part, tuple):
        for value in part:
            yield from _powers(value)


def _is_no_lens(power: say.Power) -> bool:
    size = power.size_d
    return size is not None and (size > _LARGEST_LENS_D or round(size % 1, 3) not in _EIGHTHS)


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
