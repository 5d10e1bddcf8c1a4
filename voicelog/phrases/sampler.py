"""Random phrases from the grammar, each with the meaning it was made from: for tests and for practice."""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from random import Random

from voicelog.phrases.automaton import Token
from voicelog.phrases.building import build
from voicelog.phrases.matcher import Meanings, written
from voicelog.phrases.tags import Op, Open, TwoValuesError
from voicelog.phrases.walker import Behind, Position, Step, Walker, Ways, run

Choice = tuple[Token | None, Step | Behind]
Gone = dict[Position, Counter[tuple[Token | None, tuple[Op, ...]]]]
"""How often each way was gone, by where it leads; ways that were expanded anew are others, and yet the same."""

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
    gone: Gone = {}
    while True:
        yield _one(walker, random, gone, seldom=False)
        if seldom:
            yield _one(walker, random, gone, seldom=True)


def _one(walker: Walker, random: Random, gone: Gone, *, seldom: bool) -> Sample:
    """A phrase; ways that would say two things of one are left."""
    while True:
        with suppress(TwoValuesError):
            return _tried(walker, random, gone, seldom=seldom)


def _tried(walker: Walker, random: Random, gone: Gone, *, seldom: bool) -> Sample:
    position, stack = walker.start, walker.start_stack
    words: list[Token] = []
    rules = {walker.rule}
    while True:
        ways = walker.ways(position)
        if len(words) >= _LONG and ways.to_end:  # ways seldom gone would lead on for ever
            token, step = (
                None,
                random.choices(ways.to_end, [math.exp(each.log_weight) for each in ways.to_end])[0],
            )
        else:
            token, step = _way(ways, random, gone, seldom=seldom and len(words) < _LONG)
        rules.update(op.rule for op in step.ops if isinstance(op, Open))
        stack = run(step.ops, stack)
        if token is None:
            return Sample(written(words), build(walker.rule, stack[0].last), frozenset(rules))
        words.append(token)
        position = step.target


def _way(ways: Ways, random: Random, gone: Gone, *, seldom: bool) -> tuple[Token | None, Step]:
    """One way on, chosen part by part: all of them put together would be many more than are ever gone."""
    ops: tuple[Op, ...] = ()
    while True:
        choices = ways.choices
        weights = _by_what_was_gone(choices, gone) if seldom else ways.weights
        token, chosen = random.choices(choices, weights)[0]
        gone.setdefault(chosen.target, Counter())[token, chosen.ops] += 1
        ops += chosen.ops
        if isinstance(chosen, Step):
            return token, chosen._replace(ops=ops)
        ways = chosen.ways


def _by_what_was_gone(choices: Sequence[Choice], gone: Gone) -> list[float]:
    """Weights by which ways seldom gone before are gone now; to most places none was ever gone."""
    weights = [1.0] * len(choices)
    for number, (token, chosen) in enumerate(choices):
        before = gone.get(chosen.target)
        if before is not None:
            weights[number] = 1.0 / (1 + before[token, chosen.ops]) ** 2
    return weights
