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
        "vertical just plus two",
        "vertical less than plus two",
        "vertical maybe plus two",
        "vertical isn't plus two",
        "vertical no motion with plus two",
        "plus one in the vertical she's 2",
    ],
)
def test_doubt_that_is_not_understood_is_refused_and_not_left_out(line: str) -> None:
    with pytest.raises(NotAPhraseError) as caught:
        READER.understand(line)

    doubts = {"not", "never", "without", "if", "just", "less", "maybe", "'t", "no"}
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
        "good",
        "clear",
        "bright",
        "take it",
        "one",
        "seventy four",
        "with",
        "sorry",
    ],
)
def test_talk_of_the_room_is_no_entry(line: str) -> None:
    with pytest.raises(NotAPhraseError):
        LINE.understand(line)


@pytest.mark.parametrize(
    "line",
    [
        "vertical definitely neutral at plus two",
        "my vertical is plus two",
        "vertical i reckon is plus two",
        "vertical has come out at plus two",
        "so this makes the vertical plus two",
    ],
)
def test_words_that_say_nothing_are_passed_over_in_a_typed_line(line: str) -> None:
    ((entry,),) = LINE.understand(line).readings
    assert isinstance(entry, say.Reading)
    assert (entry.motion, entry.lens) == ("neutral", say.Lens(sphere=say.Power(size_d=2.0, sign=1)))


def test_a_streak_that_is_turned_belongs_to_no_number_before_it_unasked() -> None:
    assert len(LINE.understand("vertical neutral plus two fifty turning the streak").readings) == 2


@pytest.mark.parametrize(
    ("line", "power"),
    [
        ("vertical +1 1/2", 1.5),
        ("vertical -1 and 3/4", -1.75),
        ("+2½ vertical", 2.5),
        ("vertical -1/2", -0.5),
    ],
)
def test_a_power_typed_with_a_fraction_is_one_power(line: str, power: float) -> None:
    ((entry,),) = LINE.understand(line).readings
    assert isinstance(entry, say.Reading)
    assert entry.lens == say.Lens(sphere=say.Power(size_d=abs(power), sign=1 if power > 0 else -1))


def test_what_is_said_of_the_patient_behind_an_entry_is_left_out_unless_it_tells_something() -> None:
    ((entry,),) = READER.understand("plus one in the vertical she's looking at the duck").readings
    assert isinstance(entry, say.Reading)
    with pytest.raises(NotAPhraseError):
        READER.understand("plus one in the vertical she's plus two")
