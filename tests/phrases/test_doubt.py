"""Doubt and denial are never passed over, and what the room says is no entry."""

import pytest

from tests.english import load
from voicelog.phrases import meanings as say
from voicelog.phrases.lines import TYPED, LineReader, NotAPhraseError

READER = LineReader(load(), "line in_hand", *TYPED)
LINE = LineReader(load(), "line", *TYPED)


@pytest.mark.parametrize(
    "line",
    [
        "not neutral at plus two",
        "vertical not neutral at plus two",
        "vertical isn't neutral",
        "nearly neutral vertical plus two",
        "almost neutral at plus two vertical",
        "horizontal not quite neutral",
        "just past neutral",
        "not there yet",
        "vertical nearly plus two not exactly neutral",
    ],
)
def test_a_denied_or_doubted_neutral_is_no_neutral(line: str) -> None:
    for reading in READER.understand(line).readings:
        (found,) = [meaning for meaning in reading if isinstance(meaning, say.Reading)]
        assert found.motion == "not_neutral"


@pytest.mark.parametrize(
    "line",
    [
        "vertical never neutral at plus two",
        "vertical plus two not",
        "without vertical plus two",
        "vertical neutral at plus two she's not sure",
        "if it is vertical plus two",
        "vertical plus two without the lens",
    ],
)
def test_doubt_that_is_not_understood_is_refused_and_not_left_out(line: str) -> None:
    with pytest.raises(NotAPhraseError) as caught:
        READER.understand(line)

    doubts = {"not", "never", "without", "if"}
    nearest = (caught.value.nearest or line).split()
    assert doubts.intersection(nearest) == doubts.intersection(line.split())


@pytest.mark.parametrize(
    "line",
    [
        "which is better one or two",
        "better with it or against the white background",
        "last year you were plus two in both eyes",
        "say for example the vertical were plus five",
        "pass me the plus one please",
        "minus two tonight",
        "i'm sixty seven",
        "sit back about half a metre for me",
        "note to self buy batteries",
        "make a note of that for me would you",
        "up a quarter of a percent the rates are gone",
        "forget it",
        "never mind",
        "right",
        "one",
        "seventy four",
        "with",
        "sorry",
    ],
)
def test_talk_of_the_room_is_no_entry(line: str) -> None:
    with pytest.raises(NotAPhraseError):
        LINE.understand(line)


def test_what_is_said_of_the_patient_behind_an_entry_is_left_out_unless_it_tells_something() -> None:
    ((entry,),) = READER.understand("plus one in the vertical she's looking at the duck").readings
    assert isinstance(entry, say.Reading)
    with pytest.raises(NotAPhraseError):
        READER.understand("plus one in the vertical she's plus two")
