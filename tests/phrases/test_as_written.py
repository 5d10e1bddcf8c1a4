"""Typed notation: marks, abbreviations and notes as they are written."""

import pytest

from tests.english import load
from voicelog.phrases import meanings as say
from voicelog.phrases.as_written import as_written
from voicelog.phrases.lines import TYPED, LineReader
from voicelog.session import Session

READER = LineReader(load(), "line clinic", *TYPED)


@pytest.mark.parametrize(
    ("line", "plain"),
    [
        ("VA R 6/9, L 6/12", "acuity right 6/9 left 6/12"),
        ("R: streak 30 +1.00; streak 120 -0.50", "right eye streak 30 +1.00 streak 120 -0.50"),
        ("R +2.00@90 +1.00@180", "right eye +2.00@90 +1.00@180"),
        ("L", "left eye"),
        ("WD = 50 cm", "working distance 50"),
        ("w.d.=50cm", "working distance 50"),
        ("axis 5\N{DEGREE SIGN}", "axis 5"),
        ("+2.00 @ 90 deg", "+2.00 @ 90"),
        ("+2.00@90\N{DEGREE SIGN}, +1.00@180\N{DEGREE SIGN}", "+2.00 @ 90 +1.00 @ 180"),
        ("PD 30.5/31", "pd right 30.5 left 31"),
    ],
)
def test_a_typed_notation_says_what_the_words_say(line: str, plain: str) -> None:
    assert READER.understand(line).readings == READER.understand(plain).readings


def test_a_small_letter_names_no_eye() -> None:
    assert READER.loosely("r 6/9") is None


def test_a_typed_note_keeps_its_capitals_and_marks() -> None:
    made = Session()
    (note,) = made.type_line("Note: ortho-k wearer, last worn 3 days ago (R Jones)").meanings
    assert note == say.Note(text="ortho-k wearer, last worn 3 days ago (R Jones)")


def test_what_is_no_note_stays_as_it_is() -> None:
    said = READER.understand("vertical plus two").readings[0]
    assert as_written("vertical plus two", said, load().language) is said


@pytest.mark.parametrize(
    "line", ["near acuity N5 at 40 cm", "near add +2.00, N5 @ 40cm", "cover test near 4 exo at 40 cm"]
)
def test_how_near_something_was_read_is_no_working_distance(line: str) -> None:
    (reading,) = READER.understand(line).readings
    assert not any(isinstance(each, say.WorkingDistance) for each in reading)
    assert "40" in str(reading)


def test_to_write_down_an_entry_is_to_enter_it() -> None:
    line, plain = "write down horizontal plus two", "horizontal plus two"
    assert READER.understand(line).readings == READER.understand(plain).readings
    assert isinstance(READER.understand("write down that he was restless").readings[0][0], say.Note)
