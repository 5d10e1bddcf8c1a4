"""Random phrases from the grammar, each with the meaning it was made from: for tests and for practice."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from voicelog.phrases.automaton import Token
from voicelog.phrases.meanings import Meaning, build
from voicelog.phrases.tags import Open
from voicelog.phrases.walker import Step, Walker, run


@dataclass(frozen=True, slots=True)
class Sample:
    """A phrase, its meaning, and the rules that it passed through."""

    text: str
    meaning: Meaning
    rules: frozenset[str]


def samples(walker: Walker, random: Random, *, evenly: bool = False) -> Iterator[Sample]:
    """Endless random phrases, by the grammar's weights, or `evenly` over the ways on at every word."""
    while True:
        yield _one(walker, random, evenly)


def _one(walker: Walker, random: Random, evenly: bool) -> Sample:
    position, stack = walker.start, walker.start_stack
    words: list[Token] = []
    rules = {walker.rule}
    while True:
        ways = walker.ways(position)
        choices: list[tuple[Token | None, Step]] = [(None, step) for step in ways.to_end]
        choices += [(token, step) for token, steps in ways.by_token.items() for step in steps]
        weights = [1.0 if evenly else math.exp(step.log_weight) for _, step in choices]
        token, step = random.choices(choices, weights)[0]
        rules.update(op.rule for op in step.ops if isinstance(op, Open))
        stack = run(step.ops, stack)
        if token is None:
            text = "".join(word.text if word.joined else f" {word.text}" for word in words)
            return Sample(text.strip(), build(walker.rule, stack[0].last), frozenset(rules))
        words.append(token)
        position = step.target
