"""Words to meanings: runs a line of words through the automaton and reads off what the tags say."""

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TypeAlias

from voicelog.phrases.automaton import ANY_WORD, OTHER_WORD, Token
from voicelog.phrases.building import build
from voicelog.phrases.language import Language
from voicelog.phrases.meanings import Meaning
from voicelog.phrases.plainest import plainest
from voicelog.phrases.tags import FreeWord, Op, Stack, TwoValuesError, Value
from voicelog.phrases.walker import Position, Step, Walker, run

_SAME_SIGN = str.maketrans({"−": "-", "–": "-", "‐": "-", "×": "x", "’": "'", "\t": " "})
_HALVES = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4"}
_PARTS = {"1/2": ".5", "1/4": ".25", "3/4": ".75"}
_IN_FOR_ING = re.compile(r"(?<=[a-z]{2})in'(?=\s|$)|(?<=\bwork)in\b|(?<=\bgo)in\b")  # "goin' up a half"
_WITH_CUT_SHORT = re.compile(r"(?<!\S)wi'(?=\s|$)")
_BETWEEN_LENSES = re.compile(r"(?<=\d|l|o)\s*/\s*(?=[+-]\d*\.?\d)")  # "+1.00/-0.50x90", "pl/-1.00"
_LETTERS_OF_LENS = re.compile(r"(?<=\d)\s*d(?:s\s*/?\s*(?=[+-])|c\s*(?=[x@]))")  # "-2.00DS/-0.75DCx180"
_SPHERE = re.compile(r"(?<=\d)\s*(?:ds|sph)$")  # "-4.00 sph"
_COMMA = re.compile(r"(?<=[+-])(\d{1,2}),(?=\d{1,2}(?!\d))")  # "+1,50"
_RUN_ON = re.compile(r"([+-]\d+(?:\.\d+)?)(?=[+-]\d+(?:\.\d+)?\s*[x@])")  # "+3.00-1.00x180"
_THEM = re.compile(r"(?<!\S)'em(?![a-z'])")
_DOTTED = re.compile(r"(?<![a-z.])([a-z])\.([a-z])\.?(?![a-z])")  # "R.E.", "o.d."
_PLANO = re.compile(r"(?<!\S)pl(?=\s*/?\s*[+-])")
_SIDE = re.compile(r"(?<![^\s,;])([RL])(?=\s*:|,?\s+[+-]?\d|\s*$)")  # "VA R 6/9, L 6/12"; small letters spell
_ONE_LETTER = {"y": "yes", "n": "no"}
_DEGREES = re.compile(r"(?<=\d)\s*(?:°|deg(?![a-z]))\.?")
_EQUALS = re.compile(r"\s*=\s*(?=[+-]?\d)")  # "WD = 50 cm"
_AT_DISTANCE = re.compile(r"@\s*(?=\d+\s*cm)")
_TWO_HALVES = re.compile(r"(?<=pd )(\d\d(?:\.\d)?)\s*/\s*(\d\d(?:\.\d)?)(?!\d)")  # "PD 30.5/31"
_APART = re.compile(r"(?<=\d)\s*([x@])\s*(?=[\d+-])|(?<=\d)(@)|(@)(?=[\d+-])")


@dataclass(frozen=True, slots=True)
class _Patterns:
    piece: re.Pattern[str]
    end_of_word: re.Pattern[str]
    word_hyphen: re.Pattern[str]
    parts: re.Pattern[str]
    """A signed number that ends in a fraction ("+1 1/2"); a bar without a sign before it is another thing ("6/6")."""


@cache
def _patterns(letters: str, joined_by: str) -> _Patterns:
    letter = f"a-z{letters}"
    before = f"(?<=[{letter}0-9+%-])"
    return _Patterns(
        re.compile(rf"o'clock|[{letter}]+|'[{letter}]+|\S"),
        re.compile(rf"{before}[.,;:!?]+(?=\s|$)"),
        re.compile(rf"{before}-(?=[{letter}])"),
        re.compile(
            rf"((?<!\S)[+-](?:\d{{1,2}})?)(?:(?<=\d) (?:{joined_by} )?|(?<!\d))(1/2|1/4|3/4)(?![\d/.])"
        ),
    )


def tokenise(line: str, language: Language) -> tuple[Token, ...]:
    """Split a line into words and single characters; `joined` marks what had no space before it.

    Case, hyphens between words, and punctuation that ends a word do not matter.
    """
    patterns = _patterns(language.letters, language.numbers.joined_by if language.numbers else "")
    text = _SIDE.sub(r"\1e", unicodedata.normalize("NFC", line))
    text = _ONE_LETTER.get(text.strip().lower(), text).lower().translate(_SAME_SIGN).replace("'tis", "it is")
    text = _DOTTED.sub(r"\1 \2", _THEM.sub("them", text))
    text = _WITH_CUT_SHORT.sub("with", _IN_FOR_ING.sub("ing", text))
    text = _AT_DISTANCE.sub("at ", _EQUALS.sub(" ", _DEGREES.sub("", text)))
    text = _TWO_HALVES.sub(r"right \1 left \2", text)
    for sign, spelled in _HALVES.items():
        text = text.replace(sign, spelled)
    text = patterns.parts.sub(lambda found: found[1] + _PARTS[found[2]], " ".join(text.split()))
    text = _SPHERE.sub(" sphere", text)
    text = _RUN_ON.sub(r"\1 ", _COMMA.sub(r"\1.", _PLANO.sub("plano", text)))
    text = _LETTERS_OF_LENS.sub(" ", _BETWEEN_LENSES.sub(" ", text))
    text = _APART.sub(lambda found: f" {found[0].strip()} ", text)
    text = patterns.word_hyphen.sub(" ", patterns.end_of_word.sub(" ", text))
    return tuple(
        Token(piece, joined=place > 0 or piece.startswith("'"))
        for word in text.split()
        for place, piece in enumerate(patterns.piece.findall(word))
    )


def written(tokens: Sequence[Token]) -> str:
    """Words as a line."""
    return "".join(token.text if token.joined else f" {token.text}" for token in tokens).strip()


def walked_over(token: Token, beside: frozenset[str]) -> tuple[Token, ...]:
    """The words of the grammar that a word of a line may be, free words aside: itself, and one of those `beside`."""
    return (token, OTHER_WORD) if token.text in beside else (token,)


Meanings: TypeAlias = tuple[Meaning, ...]
"""What one line says, in order: several entries may be said in one breath."""


class Matcher:
    """Matches whole lines against one walker's rule. Only words `beside` are taken for words that tell nothing."""

    def __init__(self, walker: Walker, beside: frozenset[str] = frozenset()) -> None:
        self._walker = walker
        self._beside = beside

    def readings(self, tokens: Sequence[Token]) -> tuple[Meanings, ...]:
        """The plainest of all that the line can say, likeliest first; none when it is no phrase."""
        return plainest(self.every_reading(tokens))

    def every_reading(self, tokens: Sequence[Token]) -> tuple[Meanings, ...]:
        """Every different thing that the line can say, likeliest first."""
        return tuple(dict.fromkeys(build(self._walker.rule, value) for value in self.values(tokens)))

    def values(self, tokens: Sequence[Token]) -> tuple[Value, ...]:
        """Every different value the line can have, as the tags left it, likeliest first."""
        best = self._weighed(tokens)
        return tuple(sorted(best, key=lambda value: -best[value]))

    def log_weight(self, tokens: Sequence[Token]) -> float | None:
        """How likely the grammar's weights make the line (base e); None when it is no phrase."""
        return max(self._weighed(tokens).values(), default=None)

    def _weighed(self, tokens: Sequence[Token]) -> dict[Value, float]:
        alive = self._alive(tokens)
        found: dict[tuple[Position, Stack], float] = {(self._walker.start, self._walker.start_stack): 0.0}
        for token, here in zip(tokens, alive, strict=True):
            stepped: dict[tuple[Position, Stack], float] = {}
            for (position, stack), weight in found.items():
                for step, ops in self._steps(position, token):
                    after = _after(ops, stack) if step.target in here else None
                    if after is not None:
                        key = (step.target, after)
                        stepped[key] = max(weight + step.log_weight, stepped.get(key, float("-inf")))
            found = stepped
        best: dict[Value, float] = {}
        for (position, stack), weight in found.items():
            for step in self._walker.ways(position).to_end:
                after = _after(step.ops, stack)
                if after is None:
                    continue
                value = after[0].last
                best[value] = max(weight + step.log_weight, best.get(value, float("-inf")))
        return best

    def next_words(self, tokens: Sequence[Token]) -> frozenset[str]:
        """The words that may follow these leading words."""
        positions = ([frozenset({self._walker.start}), *self._forward(tokens)])[-1]
        return frozenset(token.text for each in positions for token in self._walker.ways(each).targets)

    def _steps(self, position: Position, token: Token) -> Iterator[tuple[Step, tuple[Op, ...]]]:
        """The ways over a word, and over any word, which joins the text of its rule."""
        ways = self._walker.ways(position)
        for step in ways.over(token):
            yield step, step.ops
        for step in ways.over(ANY_WORD):
            yield step, (*step.ops, FreeWord(token.text, token.joined))
        if OTHER_WORD in walked_over(token, self._beside):
            for step in ways.over(OTHER_WORD):
                yield step, step.ops

    def _forward(self, tokens: Sequence[Token]) -> list[frozenset[Position]]:
        """Word by word, the positions that the line so far can lead to."""
        positions = frozenset({self._walker.start})
        reached = []
        for token in tokens:
            positions = frozenset(
                step.target for position in positions for step, _ in self._steps(position, token)
            )
            reached.append(positions)
        return reached

    def _alive(self, tokens: Sequence[Token]) -> list[frozenset[Position]]:
        """As `_forward`, but only what lies on some whole phrase; so that tags are run only there."""
        alive = self._forward(tokens)
        if alive:
            alive[-1] = frozenset(position for position in alive[-1] if self._walker.may_end(position))
        for place in range(len(alive) - 2, -1, -1):
            alive[place] = frozenset(
                position
                for position in alive[place]
                if any(
                    step.target in alive[place + 1] for step, _ in self._steps(position, tokens[place + 1])
                )
            )
        return alive


def _after(ops: Sequence[Op], stack: Stack) -> Stack | None:
    """The open rules behind a step; None where a rule would be told two things for one."""
    try:
        return run(ops, stack)
    except TwoValuesError:
        return None
