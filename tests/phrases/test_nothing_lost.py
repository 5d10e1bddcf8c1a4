"""Every number, sign and place of a line that is understood without a question is in what was understood of it.

A word is used where the line says another thing, or nothing, without it.
"""

from collections.abc import Callable, Iterator
from itertools import islice
from random import Random
from typing import TypeAlias

import pytest

from tests.english import ENGLISH, load
from voicelog.phrases.automaton import Token
from voicelog.phrases.lines import TYPED, LineReader
from voicelog.phrases.matcher import Meanings, tokenise, written
from voicelog.phrases.meanings import Eye, Lens, Meaning, Reading
from voicelog.phrases.plainest import powers
from voicelog.phrases.sampler import samples
from voicelog.phrases.traversal import parts
from voicelog.phrases.word_sets import word_sets, words_of

LINE = LineReader(load(), "line in_hand", *TYPED)
SETS = word_sets(load())
VALUES = frozenset().union(
    *(words_of(load(), rule) for rule in ("teen", "tens", "unit", "sign_word", "unit_but_five"))
) | {"vertical", "horizontal", "half", "quarter", "left", "against"}
ZERO = frozenset({"zero", "nought", "oh"})
"""Its sign tells nothing; nor does that of "up plus a quarter", nor what is put right in the same breath."""
NOT_ALWAYS = frozenset({"one", "second"})
"""Words for a number that may stand for a thing: "the left one"."""


Understands: TypeAlias = Callable[[tuple[Token, ...]], Meanings | None]


def _understood(tokens: tuple[Token, ...]) -> Meanings | None:
    """What a line says, where nothing is asked about."""
    found = LINE.loosely(written(tokens))
    return found.readings[0] if found is not None and len(found.readings) == 1 else None


def _lost(tokens: tuple[Token, ...], understood: Understands = _understood) -> list[str]:
    """The words of values without which a line says the same."""
    said = understood(tokens)
    mended = any(token.text in SETS.doubt | SETS.repairs | ZERO for token in tokens)
    if said is None or mended or any(_is_open(each) for each in said):
        return []
    return [
        token.text
        for at, token in enumerate(tokens)
        if token.text in VALUES - NOT_ALWAYS
        and not (
            token.text == "left" and [each.text for each in tokens].count("left") > 1
        )  # one eye, named twice
        and [each.text for each in tokens[at : at + 2]] != ["two", "meridians"]  # there are no more
        and [each.text for each in tokens[max(0, at - 1) : at + 1]] != ["those", "two"]  # "those" says it too
        and understood((*tokens[:at], *tokens[at + 1 :])) == said
    ]


def _is_open(meaning: Meaning) -> bool:
    """Whether it is a step, a span, or a power that is asked for."""
    steps = any(lens.on_top for lens in parts(meaning, Lens))
    spans = isinstance(meaning, Reading) and meaning.between is not None
    return steps or spans or any(power.size_d is None for power in powers(meaning))


def _lines(count: int, random: Random) -> Iterator[tuple[Token, ...]]:
    """Random phrases with a word left out, put in or changed, and two in one."""
    known = sorted(SETS.known)
    said = samples(load().walker("line"), random)
    for sample in islice(said, count):
        tokens = list(tokenise(sample.text, ENGLISH))
        at = random.randrange(len(tokens))
        match random.randrange(4):
            case 0:
                del tokens[at]
            case 1:
                tokens.insert(at, Token(random.choice(known)))
            case 2:
                tokens[at] = Token(random.choice(known))
            case _:
                tokens += tokenise(next(said).text, ENGLISH)
        yield tuple(tokens)


@pytest.mark.parametrize("count", [40, pytest.param(1000, marks=pytest.mark.sweep)])
def test_no_value_of_a_line_is_lost(count: int) -> None:
    understood = 0
    for tokens in _lines(count, Random(41)):
        understood += _understood(tokens) is not None
        assert not _lost(tokens), written(tokens)
    assert understood > count / 10


@pytest.mark.parametrize("line", ["streak vertical plus two", "right eye plus two at ninety"])
def test_a_word_that_is_used_is_none_that_is_lost(line: str) -> None:
    assert not _lost(tokenise(line, ENGLISH))


def test_what_is_lost_is_found() -> None:
    """A reader that hears nothing but an eye loses place, sign and number."""
    tokens = tokenise("right eye vertical plus two", ENGLISH)

    assert _lost(tokens, lambda _: (Eye(eye="right"),)) == ["vertical", "plus", "two"]
