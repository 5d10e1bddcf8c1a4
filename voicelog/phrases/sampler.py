"""Random phrases from the grammar, each with the meaning it was made from: for tests and for practice."""

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from voicelog.phrases.automaton import Token
from voicelog.phrases.building import build
from voicelog.phrases.matcher import Meanings
from voicelog.phrases.tags import Open
from voicelog.phrases.walker import Step, Walker, run

_LONG = 14
"""After so many words a phrase ends as soon as it may."""


@dataclass(frozen=True, slots=True)
class Sample:
    """A phrase, what it says, and the rules that it passed through."""

    text: str
    meanings: Meanings
    rules: frozenset[str]


def samples(walker: Walker, random: Random, *, seldom: bool = True) -> Iterator[Sample]:
    """Endless random phrases: by the grammar's weights, which are those of what people say.

    With `seldom` every other one goes by ways seldom gone before, so that every rule is reached soon.
    """
    gone: Counter[tuple[Token | None, Step]] = Counter()
    while True:
        yield _one(walker, random, gone, seldom=False)
        if seldom:
            yield _one(walker, random, gone, seldom=True)


def _one(walker: Walker, random: Random, gone: Counter[tuple[Token | None, Step]], *, seldom: bool) -> Sample:
    position, stack = walker.start, walker.start_stack
    words: list[Token] = []
    rules = {walker.rule}
    while True:
        ways = walker.ways(position)
        choices: list[tuple[Token | None, Step]] = [(None, step) for step in ways.to_end]
        if len(words) < _LONG or not choices:  # ways seldom gone would lead on for ever
            choices += [(token, step) for token, steps in ways.by_token.items() for step in steps]
        if seldom and len(words) < _LONG:
            weights = [1.0 / (1 + gone[choice]) ** 2 for choice in choices]
        else:
            weights = [math.exp(step.log_weight) for _, step in choices]
        token, step = choice = random.choices(choices, weights)[0]
        gone[choice] += 1
        rules.update(op.rule for op in step.ops if isinstance(op, Open))
        stack = run(step.ops, stack)
        if token is None:
            text = "".join(word.text if word.joined else f" {word.text}" for word in words)
            return Sample(text.strip(), build(walker.rule, stack[0].last), frozenset(rules))
        words.append(token)
        position = step.target
