"""Words to meaning: runs a line of words through the automaton and reads off what the tags say."""

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from voicelog.phrases.automaton import ANY_WORD, OTHER_WORD, Token
from voicelog.phrases.tags import FreeWord, Op, Stack, Value
from voicelog.phrases.walker import Position, Step, Walker, run

_PIECE = re.compile(r"o'clock|[a-z]+|'[a-z]+|\S")
_SAME_SIGN = str.maketrans({"−": "-", "–": "-", "‐": "-", "×": "x", "’": "'", "\t": " "})
_HALVES = {"½": " 1/2", "¼": " 1/4", "¾": " 3/4"}
_END_OF_WORD = re.compile(r"(?<=[a-z0-9+%-])[.,;:!?]+(?=\s|$)")
_APART = re.compile(r"(?<=\d)\s*([x@])\s*(?=[\d+-])|(?<=\d)(@)|(@)(?=[\d+-])")
_WORD_HYPHEN = re.compile(r"(?<=[a-z0-9+%-])-(?=[a-z])")


def tokenise(line: str) -> tuple[Token, ...]:
    """Split a line into words and single characters; `joined` marks what had no space before it.

    Case, hyphens between words, and punctuation that ends a word do not matter.
    """
    text = line.lower().translate(_SAME_SIGN).replace("'tis", "it is")
    for sign, spelled in _HALVES.items():
        text = text.replace(sign, spelled)
    text = _APART.sub(lambda found: f" {found[0].strip()} ", text)
    text = _WORD_HYPHEN.sub(" ", _END_OF_WORD.sub(" ", text))
    return tuple(
        Token(piece, joined=place > 0)
        for word in text.split()
        for place, piece in enumerate(_PIECE.findall(word))
    )


@dataclass(frozen=True, slots=True)
class Parse:
    """One reading of a line: its value, and how likely the grammar's weights make it (log, base e)."""

    value: Value
    log_weight: float


class Matcher:
    """Matches whole lines against one walker's rule. `telling` words are never taken for words that tell nothing."""

    def __init__(self, walker: Walker, telling: frozenset[str] = frozenset()) -> None:
        self._walker = walker
        self._telling = telling

    def parses(self, tokens: Sequence[Token]) -> tuple[Parse, ...]:
        """Every different value the line can have, likeliest first; none when it is no phrase."""
        alive = self._alive(tokens)
        found: dict[tuple[Position, Stack], float] = {(self._walker.start, self._walker.start_stack): 0.0}
        for token, here in zip(tokens, alive, strict=True):
            stepped: dict[tuple[Position, Stack], float] = {}
            for (position, stack), weight in found.items():
                for step, ops in self._steps(position, token):
                    if step.target in here:
                        key = (step.target, run(ops, stack))
                        stepped[key] = max(weight + step.log_weight, stepped.get(key, float("-inf")))
            found = stepped
        best: dict[Value, float] = {}
        for (position, stack), weight in found.items():
            for step in self._walker.ways(position).to_end:
                value = run(step.ops, stack)[0].last
                best[value] = max(weight + step.log_weight, best.get(value, float("-inf")))
        return tuple(
            Parse(value, weight) for value, weight in sorted(best.items(), key=lambda item: -item[1])
        )

    def longest_start(self, tokens: Sequence[Token]) -> int:
        """How many leading words still begin some phrase: where an unknown line goes wrong."""
        for length, positions in enumerate(self._forward(tokens)):
            if not positions:
                return length
        return len(tokens)

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
        if token.text not in self._telling:
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
                    step.target in alive[place + 1]
                    for step, _ in self._steps(position, tokens[place + 1])
                )
            )
        return alive
