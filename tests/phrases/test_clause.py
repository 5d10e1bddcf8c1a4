"""What a refused line tells for the most part is asked about, and never entered."""

import pytest

from tests.english import load
from tests.phrases.telling import refused
from voicelog.phrases.lines import TYPED, LineReader

LINE = LineReader(load(), "line in_hand", *TYPED)


@pytest.mark.parametrize(
    ("line", "nearest"),
    [
        ("bit cramped here i'm at half a metre", "here i'm at half a metre"),
        ("zigzagging a touch swap those two", "swap those two"),
        ("the break lines up at thirty five so axis thirty five", "so axis thirty five"),
        ("right vertical fancies plus two point five", "right vertical plus two point five"),
        ("that glow dies at plus two", "at plus two"),
        ("plus one fifty does the trick", "plus one fifty"),
    ],
)
def test_a_part_that_is_a_phrase_is_worth_a_question(line: str, nearest: str) -> None:
    error = refused(LINE, line)

    assert (error.nearest, error.likely) == (nearest, True)


@pytest.mark.parametrize(
    "line",
    [
        "if it were plus two i would be happy",
        "the bill is plus twenty for the frames",
        "the shop shuts at half past two working distance sixty",
        "the lady said plus two was her old power",
        "zigzagging plus two minus seven",
        "sir is that the streak at forty five",
    ],
)
def test_beside_other_numbers_doubt_or_others_nothing_is_guessed(line: str) -> None:
    assert not refused(LINE, line).likely
