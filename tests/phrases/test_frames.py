"""Lines told by what they hold, whatever small words and verbs stand around it; and lines that only look so."""

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
        ("jumpin' over to o s", "left eye"),
        ("we shall begin with the left eye", "left eye"),
        ("kay o d", "right eye"),
        ("finished with the right, moving on to the left eye", "left eye"),
        ("sitting about sixty five off him", "working distance sixty five"),
        ("my working distance is two over three of a metre", "working distance two thirds of a metre"),
        ("i'll take two dioptres off for the working distance", "take off two for the working distance"),
        ("working distance lens is in so no need to subtract", "working lens in"),
        (
            "i have put plus one point five working lens in both cells",
            "working lens plus one point five in both eyes",
        ),
        ("it took plus three to freeze the vertical", "vertical plus three"),
        ("all the meridians are plus one", "both meridians plus one"),
        ("no astigmatism, just plus two", "both meridians plus two"),
        ("now plus two point five d s lens", "put in plus two point five"),
        ("the axis is not ninety it's eighty", "sorry axis eighty not ninety"),
        ("these are now the cycloplegic ones", "this is wet"),
        ("what'd the o d come to", "what is the net of the right eye"),
        ("flip flop those two for me", "swap those two"),
        ("change plus two to plus four", "not plus two but plus four"),
        ("delete the right vertical", "delete the vertical in the right eye"),
        ("undo right", "delete the right eye"),
        ("cyl off", "cylinder out"),
        ("vertical was the left", "vertical belonged to left eye"),
        (
            "central steady maintained right unmaintained left",
            "right eye central steady maintained left eye central steady unmaintained",
        ),
        ("pupil's six millimeters right seven left", "pupil size right six pupil size left seven"),
        ("right eye with pinhole gets six nine", "acuity right eye pinhole six nine"),
        (
            "gave her a drop of tropicamide at nine forty",
            "drops tropicamide at nine forty",
        ),
    ],
)
def test_a_line_is_told_by_what_it_holds(line: str, plain: str) -> None:
    assert said(line) == said(plain)


@pytest.mark.parametrize(
    "line",
    [
        "his left eye is turning",
        "the right eye has gone",
        "look at my right ear",
        "cover the left eye",
        "sit back about half a metre for me",
        "move back half a metre",
        "he works at sixty centimetres",
        "is the working lens in",
        "have i left the working lens in",
        "are we done with the exam",
        "swap the lenses over",
        "plus two vertical rejected",
        "i can't do the left eye",
        "the left eye we never got",
        "he is not wearing his right lens",
        "let her have a go at the left eye",
        "and again with the left",
        "nurse will check the left eye",
        "vertical was right",
        "left vertical plus two right horizontal plus one",
        "the first one was plus one",
        "rotate to 100",
        "your glasses are about two years old",
        "glasses are about two years old",
        "no movement",
    ],
)
def test_what_only_looks_so_is_no_entry(line: str) -> None:
    with pytest.raises(NotAPhraseError):
        READER.understand(line)


def test_a_word_of_no_list_makes_it_a_question() -> None:
    with pytest.raises(NotAPhraseError) as caught:
        READER.understand("sauntering to the left eye")

    assert caught.value.likely
    assert caught.value.nearest == "left eye"


@pytest.mark.parametrize(
    ("line", "plain"),
    [
        ("+1.00/-0.50x90", "+1.00 -0.50 x 90"),
        ("pl/-1.00 x 10", "plano minus one axis ten"),
        ("-2.00DS/-0.75DCx180", "minus two minus seventy five axis one eighty"),
    ],
)
def test_lenses_as_they_are_written(line: str, plain: str) -> None:
    assert said(line) == said(plain)


@pytest.mark.parametrize(
    ("line", "nearest"),
    [
        (
            "left vertical plus two right horizontal plus one",
            "left eye vertical plus two right eye horizontal plus one",
        ),
        ("rotate to one hundred", "streak at one hundred"),
        ("the one before was plus one", "other meridian should be plus one"),
        ("glasses are about two years old", "note glasses are about two years old"),
        ("left pupil not reacting", "note left pupil not reacting"),
    ],
)
def test_what_may_be_meant_otherwise_is_asked_about(line: str, nearest: str) -> None:
    with pytest.raises(NotAPhraseError) as caught:
        READER.understand(line)

    assert (caught.value.nearest, caught.value.likely) == (nearest, True)
