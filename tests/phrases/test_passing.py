"""Words that tell nothing are passed over, and nothing else is changed by it."""

from itertools import islice
from random import Random

import pytest

from tests.english import ENGLISH, load
from voicelog.phrases import meanings as say
from voicelog.phrases.lines import TYPED, LineReader, NotAPhraseError
from voicelog.phrases.matcher import tokenise
from voicelog.phrases.plainest import powers
from voicelog.phrases.sampler import samples
from voicelog.phrases.word_sets import numbers, words_of

LINE = LineReader(load(), "line", *TYPED)


@pytest.mark.parametrize(
    ("line", "plain"),
    [
        ("streak vertical i reckon plus two and a half", "streak vertical plus two and a half"),
        ("so i'm getting kindly plus three in the vertical", "plus three in the vertical"),
        ("okay he gives ninety meridian plus two fifty", "ninety meridian plus two fifty"),
    ],
)
def test_a_line_with_words_that_tell_nothing_says_what_it_says_without_them(line: str, plain: str) -> None:
    assert LINE.understand(line).readings == LINE.understand(plain).readings


@pytest.mark.parametrize(
    "line",
    [
        "plus one in the vertical she's plus two",  # which of them counts was told between them
        "streak vertical not just plus two",
        "streak vertical just nearly really neutral at plus two",
        "i really have two and a quarter vertically",  # no sign
        "streak ninety neutral at plus two and a",  # a half, or a quarter
    ],
)
def test_what_may_say_another_thing_is_not_understood(line: str) -> None:
    assert LINE.loosely(line) is None


def test_no_word_that_is_passed_over_tells_anything() -> None:
    idle = words_of(load(), "idle")
    telling = [
        words_of(load(), rule) for rule in ("telling", "telling_doubt", "telling_motion", "digit", "sign")
    ]

    assert idle
    assert idle.isdisjoint(frozenset().union(*telling))


def test_words_put_in_never_change_what_is_entered() -> None:
    """Idle words at random places of random readings, but not inside numbers: the powers are the same."""
    random, idle = Random(3), sorted(words_of(load(), "idle"))
    of_numbers = numbers(load())
    tried = understood = 0
    for sample in islice(samples(load().walker("by_place"), Random(4)), 150):
        words = [token.text for token in tokenise(sample.text, ENGLISH)]
        outside = [at for at in range(1, len(words) + 1) if not set(words[at - 1 : at + 1]) <= of_numbers]
        at = random.choice(outside or [0])
        line = " ".join([*words[:at], random.choice(idle), *words[at:]]).replace(" '", "'")
        found = LINE.loosely(line)
        tried += 1
        if found is not None and len(found.readings) == 1:
            understood += 1
            assert _powers(found.readings[0]) == _powers(sample.meanings), (line, sample.text)
    assert understood > 0.3 * tried


def _powers(reading: tuple[say.Meaning, ...]) -> list[tuple[float | None, int | None]]:
    return [(each.size_d, each.sign) for meaning in reading for each in powers(meaning)]


def test_inside_a_number_nothing_is_passed_over() -> None:
    with pytest.raises(NotAPhraseError):
        LINE.understand("streak vertical plus one just fifty")
