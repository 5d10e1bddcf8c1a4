"""What the log answers when asked."""

import pytest

from tests.exam.typing import typed

HEAD = "right eye\nworking distance 50\nstreak 90 neutral at +3\n"


@pytest.mark.parametrize(
    ("lines", "answer"),
    [
        ("read back", "nothing is logged yet"),
        (HEAD + "read back", "right eye: streak vertical (power along 180) neutral, sphere +3.00"),
        (HEAD + "scratch that\nread back", "working distance 50 cm"),
        (
            HEAD + "not +3 but +2\nread back",
            "right eye: streak vertical (power along 180) neutral, sphere +2.00",
        ),
        (HEAD + "read right eye", "right eye: streak vertical (power along 180) +3.00 gross; not complete"),
        (HEAD + "read left eye", "left eye: nothing read yet"),
        (HEAD + "streak 180 neutral at +2\nread right eye", "right eye: +1.00 -1.00 x 180"),
        (
            HEAD + "streak 180 with at +2\nstreak 180 neutral at +1\nread right eye",
            "right eye: +1.00 -2.00 x 180; it contradicts itself",
        ),
        (
            HEAD + "what is missing",
            "right eye: the 90 meridian is missing; only 180 was measured; left eye: nothing read yet",
        ),
        (
            HEAD + "streak 180 neutral at 2\nwhat is missing",
            "asked: 2.00: plus or minus?; right eye: the 90 meridian is missing; only 180 was measured; "
            "left eye: nothing read yet",
        ),
        (
            HEAD
            + "streak 180 neutral at +2\nleft eye\nstreak 90 neutral at +2\nstreak 180 neutral at +2\nwhat is missing",
            "nothing is missing",
        ),
    ],
)
def test_answers(lines: str, answer: str) -> None:
    answers, _ = typed(lines)

    assert answers[-1].reply == answer
    assert answers[-1].acts == ()
