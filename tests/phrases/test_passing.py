"""Words that tell nothing are passed over, and nothing else is changed by it."""

from itertools import islice
from random import Random

import pytest

from tests.english import ENGLISH, load
from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Token
from voicelog.phrases.lines import TYPED, LineReader, NotAPhraseError
from voicelog.phrases.matcher import tokenise
from voicelog.phrases.passing import may_tell_nothing
from voicelog.phrases.plainest import powers
from voicelog.phrases.sampler import samples
from voicelog.phrases.traversal import angles
from voicelog.phrases.word_sets import numbers, word_sets, words_of

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
    for sample in islice(samples(load().walker("by_place"), Random(4)), 40):
        words = [token.text for token in tokenise(sample.text, ENGLISH)]
        outside = [at for at in range(1, len(words) + 1) if not set(words[at - 1 : at + 1]) <= of_numbers]
        at = random.choice(outside or [0])
        line = " ".join([*words[:at], random.choice(idle), *words[at:]]).replace(" '", "'")
        found, plain = LINE.loosely(line), LINE.loosely(sample.text)
        tried += 1
        if found is not None and plain is not None and len(found.readings) == len(plain.readings) == 1:
            understood += 1
            assert _powers(found.readings[0]) == _powers(plain.readings[0]), (line, sample.text)
    assert understood > 0.3 * tried


def _powers(reading: tuple[say.Meaning, ...]) -> list[tuple[float | None, int | None]]:
    return [(each.size_d, each.sign) for meaning in reading for each in powers(meaning)]


def test_inside_a_number_nothing_is_passed_over() -> None:
    with pytest.raises(NotAPhraseError):
        LINE.understand("streak vertical plus one just fifty")


SETS = word_sets(load())


@pytest.mark.parametrize(
    ("line", "plain"),
    [
        ("both principal meridians plus two point zero", "both meridians plus two point zero"),
        (
            "the streak stands vertical and i have neutral at plus one",
            "the streak vertical and i have neutral at plus one",
        ),
        ("issued glasses o d minus two point two five sphere", "glasses o d minus two point two five sphere"),
        ("right eye reading six eighteen", "right eye six eighteen"),
    ],
)
def test_a_word_of_no_list_is_passed_over_where_what_is_left_is_strong(line: str, plain: str) -> None:
    assert LINE.understand(line).readings == LINE.understand(plain).readings


@pytest.mark.parametrize(
    "line",
    [
        "the plus two looks frobbed",  # a power alone may be of anything
        "left eye wateringly",
        "frob plus two grob vertical zob",  # too many words that may tell something
        "put frobs in plus two",
        "that telly is two metres away",
        "vertical nto plus two",  # may be "not"
        "vertical lesss plus two",
        "vertical scissors plus two",
        "vertical it was plus two last year",
        "her brother vertical plus two",
    ],
)
def test_it_is_not_passed_over_else(line: str) -> None:
    assert LINE.loosely(line) is None


@pytest.mark.parametrize("name", ["exact", "telling", "doubt", "motion", "repairs", "guarded"])
def test_no_word_of_a_set_that_protects_is_passed_over_nor_is_one_that_may_be_it_misspelt(name: str) -> None:
    words = getattr(SETS, name) - SETS.idle

    assert words
    for word in words:
        assert not may_tell_nothing(Token(word), SETS)
        turned = f"{word[1:2]}{word[:1]}{word[2:]}"
        assert turned in SETS.known | SETS.idle or not may_tell_nothing(Token(turned), SETS)


def test_words_of_every_kind_put_in_never_change_a_number_sign_axis_or_eye() -> None:
    """Words that the grammar does not know, light ones and idle ones, two to a random entry, outside its
    numbers: it says the same or nothing.
    """
    random, kinds = Random(31), [["banana", "frobbing", "principal"], sorted(SETS.light), sorted(SETS.idle)]
    understood = 0
    for rule in ("by_place", "eye", "lenses", "working_distance"):
        for sample in islice(samples(load().walker(rule), Random(5), seldom=False), 25):
            words = [token.text for token in tokenise(sample.text, ENGLISH)]
            for _ in range(2):
                outside = [
                    at
                    for at in range(len(words) + 1)
                    if not set(words[max(0, at - 1) : at + 1]) <= SETS.numbers
                ]
                at = random.choice(outside or [0])
                words[at:at] = [random.choice(random.choice(kinds))]
            found = LINE.loosely(" ".join(words).replace(" '", "'"))
            plain = LINE.loosely(sample.text)
            if any(isinstance(each, say.SameDistance) for each in sample.meanings):
                continue  # "for the left eye" behind it is an eye as well
            if found is not None and plain is not None and len(found.readings) == len(plain.readings) == 1:
                understood += 1
                assert _told(found.readings[0]) == _told(plain.readings[0]), (words, sample.text)
    assert understood >= 15


def _told(reading: tuple[say.Meaning, ...]) -> list[object]:
    """Powers, angles, distances and eyes of a reading."""
    told: list[object] = list(_powers(reading))
    for each in reading:
        told += [
            getattr(each, name) for name in ("eye", "distance_cm") if getattr(each, name, None) is not None
        ]
        told += list(angles(each))
    return told


@pytest.mark.parametrize(
    "line",
    ["vertical plus two off", "vertical plus two out", "take plus three off", "streak ninety plus two away"],
)
def test_what_turns_a_lens_into_another_order_is_not_passed_over(line: str) -> None:
    with pytest.raises(NotAPhraseError):
        LineReader(load(), "line in_hand", *TYPED).understand(line)
