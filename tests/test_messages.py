"""What the program says can be read at once: grade 9 at most by Flesch and Kincaid, message by message."""

import pytest

from tests.messages import of_commands, of_pages, of_practice, of_the_log, parts
from tests.reading_grade import grade
from tests.test_reading import HARDEST_GRADE, ROOT

FEWEST = 150
"""Messages that are collected at least; were they fewer, the collection would have gone dry."""


def test_no_message_is_harder_than_grade_nine(capsys: pytest.CaptureFixture[str]) -> None:
    told = [*of_the_log(), *of_practice(), *of_commands(capsys), *of_pages(ROOT / "voicelog/page/templates")]
    messages = dict.fromkeys(part for each in told for part in parts(each))
    hard = [f"{grade(each):.1f}: {each}" for each in messages if grade(each) > HARDEST_GRADE]

    assert len(messages) >= FEWEST
    assert not hard, "\n".join(hard)


def test_a_hard_message_is_found_behind_an_easy_one() -> None:
    hard = "accommodative insufficiency necessitates cycloplegic reassessment"

    assert list(parts(f"right eye; not entered yet; {hard}")) == [hard]
    assert grade(hard) > HARDEST_GRADE
