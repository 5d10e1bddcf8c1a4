"""What the log answers when asked."""

import pytest

from tests.exam.typing import Typist, typed
from voicelog.phrases import meanings as say

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


READ = f"{HEAD}streak 180 neutral at +2\nstreak 45 with at +1"
HORIZONTAL = say.Where(names="streak", angle=180)


@pytest.mark.parametrize(
    ("question", "answer"),
    [
        (say.Tell(say="net", eye="right"), "right eye: +1.00 -1.00 x 180"),
        (say.Tell(say="cylinder", eye="right"), "right eye: cylinder -1.00 axis 180"),
        (say.Tell(say="equivalent", eye="right"), "right eye: spherical equivalent +0.50"),
        (say.Tell(say="other_form", eye="right"), "right eye: plano +1.00 x 090"),
        (say.Tell(say="net", eye="left"), "left eye: no result: nothing read yet"),
        (say.Tell(say="distance"), "working distance 50 cm"),
        (say.Tell(say="everything"), "right eye: +1.00 -1.00 x 180; left eye: nothing read yet"),
        (
            say.Tell(say="reading", where=HORIZONTAL),
            "right eye: streak horizontal (power along 090) neutral, sphere +2.00",
        ),
        (say.Tell(say="reading", eye="left"), "left eye: nothing read yet"),
        (say.Tell(say="question"), "nothing is asked"),
    ],
)
def test_narrower_questions(question: say.Tell, answer: str) -> None:
    typist = Typist()
    for line in READ.splitlines():
        typist.type(line)

    told = typist.take([question])

    assert (told.outcome, told.reply, told.acts) == ("accepted", answer, ())
