"""The phrase nearest to a line: what it tells is left as it is, and a question is asked where that is worth it."""

from itertools import islice
from random import Random

import pytest

from tests.english import ENGLISH, load
from tests.phrases.telling import refused
from voicelog.phrases.lines import TYPED, LineReader, NotAPhraseError
from voicelog.phrases.matcher import tokenise
from voicelog.phrases.sampler import samples
from voicelog.phrases.word_sets import word_sets

LINE = LineReader(load(), "line", *TYPED)
SETS = word_sets(load())


@pytest.mark.parametrize(
    ("line", "nearest"),
    [
        ("streak vertical neutarl at plus two", "streak vertical neutral at plus two"),
        ("working distence sixty seven", "working distance sixty seven"),
        ("hopping in to forty", "dropping in to forty"),
        ("right eye to comence", "right eye to begin"),
        ("left eye to kik off", "left eye to kick off"),
        ("the ninety meridin is plus one fifty", "the ninety meridian is plus one fifty"),
    ],
)
def test_one_word_is_put_right(line: str, nearest: str) -> None:
    assert refused(LINE, line).nearest == nearest


def _nearest(line: str) -> str | None:
    """What is suggested for a line, if it is refused."""
    try:
        LINE.understand(line)
    except NotAPhraseError as error:
        return error.nearest
    return None


def _told(line: str) -> list[str]:
    """What must be left as it is, in order."""
    tokens = tokenise(line, ENGLISH)
    return [
        token.text
        for token in tokens
        if token.text in SETS.exact | SETS.doubt and token.text not in SETS.idle
    ]


def test_no_number_sign_axis_eye_or_doubt_is_changed_left_out_or_put_in() -> None:
    """One word of a random phrase is left out, doubled, misspelt or another: the nearest line tells the same."""
    random = Random(17)
    suggested = 0
    for sample in islice(samples(load().walker("reading"), Random(2)), 60):
        words = sample.text.split()
        at = random.randrange(len(words))
        if words[at] in SETS.exact | SETS.doubt:
            continue
        slip = random.choice([[], [words[at], "banana"], ["banana"], [words[at][1:] + words[at][:1]]])
        line = " ".join([*words[:at], *slip, *words[at + 1 :]])
        nearest = _nearest(line)
        suggested += nearest is not None
        assert nearest is None or _told(nearest) == _told(line), (line, nearest)
    assert suggested >= 10


@pytest.mark.parametrize(
    ("line", "likely"),
    [
        ("jiggling left eye", True),
        ("the lens is about seventy four", False),  # a bare number may be of anything
        ("which eye", False),  # asks something itself
        ("is it the one percent or the half", False),
        ("i'm sixty seven", False),
    ],
)
def test_a_question_is_worth_it_where_what_is_told_fits(line: str, likely: bool) -> None:
    assert refused(LINE, line).likely == likely


def test_a_word_that_may_be_a_number_misspelt_has_nothing_put_in_its_place() -> None:
    assert refused(LINE, "streak vertical plus fivty").nearest is None


def test_a_suggestion_can_be_typed_as_it_is_written() -> None:
    """Whatever is suggested is a phrase, with numbers that no two entries share."""
    for line in (
        "jiggling o s at fifty centimeters away not sixty six",
        "popping one and three quarters before the face",
    ):
        nearest = refused(LINE, line).nearest
        assert nearest is None or LINE.phrase(nearest) is not None


def test_what_the_log_has_no_entry_for_is_shown_as_a_note() -> None:
    with pytest.raises(NotAPhraseError) as caught:
        LineReader(load(), "line", *TYPED).understand("right eye dominant for distance")

    assert (caught.value.nearest, caught.value.likely) == ("note right eye dominant for distance", True)
