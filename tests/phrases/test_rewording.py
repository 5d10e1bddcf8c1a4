"""Lines in other words than the grammar's, read in its own: nothing that counts becomes another thing so."""

from typing import Any

import pytest

from tests.english import load
from tests.phrases.telling import all_told
from voicelog.phrases.lines import TYPED, LineReader, NotAPhraseError

READER = LineReader(load(), "line", *TYPED)


def said(line: str) -> list[dict[str, Any]]:
    return all_told(READER, line)


@pytest.mark.parametrize(
    ("line", "plain"),
    [
        ("the beam at eighty degrees plus two", "the streak at eighty degrees plus two"),
        ("second main meridian plus two fifty", "other meridian plus two fifty"),
        ("in oblique sixty degree meridian plus three", "meridian sixty plus three"),
        ("axis in ten", "axis ten"),
        ("whack a half on", "up a half"),
        ("ease off a quarter", "take off a quarter"),
        (
            "take down plus one and a half minus a half axis ninety",
            "plus one and a half minus a half axis ninety",
        ),
        ("that left was from fifty not sixty seven sorry", "left eye was from fifty not sixty seven"),
        ("r e finish l e now", "left eye"),
        ("no p l left", "no light perception left"),
        ("which eye am i examining", "which eye am i on"),
        ("right next customer", "next patient"),
        ("at ninety minus a half no movement", "at ninety neutral minus a half"),
        ("i look once more at the right", "right eye"),
        ("wrong side it's the left", "that was the left eye"),
        ("kindly let me hear the whole record", "read everything"),
        ("that one don't write", "scratch that"),
        ("sixty six centimetres the usual", "working distance sixty six"),
        ("which working distance have you noted", "what is my working distance"),
        ("cross out the last two readings", "delete the last two"),
        ("all the lenses taken out of the frame", "all lenses out"),
        ("horizontal still against just a tad", "horizontal still against just a little"),
        ("what are the gross values", "what was the gross power"),
        ("no more reading back all the entries", "stop reading back"),
        ("back to the right for a second go", "back to the right eye"),
        ("the axis ought to be thirty on this eye", "make the axis thirty"),
    ],
)
def test_other_words_say_what_the_grammar_says(line: str, plain: str) -> None:
    assert said(line) == said(plain)


def test_a_reason_behind_an_entry_is_left_out() -> None:
    assert said("from fifty centimetres because he's small") == said("from fifty centimetres")
    assert said("vertical plus two because he is moving") == said("vertical plus two")


@pytest.mark.parametrize(
    "line",
    [
        "left eye first since the right is patched",
        "vertical plus two because he is with mum",
    ],
)
def test_a_reason_that_may_tell_something_is_asked_about(line: str) -> None:
    with pytest.raises(NotAPhraseError) as caught:
        READER.understand(line)

    assert caught.value.likely
    assert line.startswith(caught.value.nearest or "?")


@pytest.mark.parametrize(
    "line", ["vertical plus two because she refused it", "vertical plus two because i doubt it"]
)
def test_a_reason_that_denies_or_doubts_is_never_left_out(line: str) -> None:
    with pytest.raises(NotAPhraseError) as caught:
        READER.understand(line)

    assert not caught.value.likely


def test_how_often_is_left_out_behind_drops_alone() -> None:
    assert said("cyclopentolate three times every ten minutes both eyes") == said("cyclopentolate both eyes")
    with pytest.raises(NotAPhraseError):
        READER.understand("vertical plus two three times every ten minutes")
