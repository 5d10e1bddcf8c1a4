"""Accept, ask or ignore, from the figures alone."""

import pytest

from tests.english import ENGLISH, load
from voicelog.hearing.decision import Limits, decide, default_limits
from voicelog.hearing.engines.protocol import Hearing, Hypothesis
from voicelog.hearing.misheard import has_odd_axis, misheard_rival
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader
from voicelog.phrases.matcher import Meanings

READER = LineReader(load(), "entry", Layer.WRITTEN)
LIMITS = Limits(
    accept_score=-5,
    accept_margin=2,
    ask_score=-10,
    teen_margin=4,
    odd_teen_margin=0.5,
    agree_opinion=0.1,
    agreed_margin=0.5,
)


def meanings(text: str) -> Meanings:
    """What a line says, in its one reading."""
    (found,) = READER.understand(text).readings
    return found


def heard(
    *texts_and_logs: tuple[str, float], free: str = "", free_log: float = -1.0, second: float | None = None
) -> Hearing:
    """A hearing with these hypotheses; the free transcript is the best one unless given."""
    hypotheses = tuple(Hypothesis(text, meanings(text), log) for text, log in texts_and_logs)
    return Hearing("test", hypotheses, free or texts_and_logs[0][0], free_log, 0.1, second)


READING = "streak vertical neutral at plus one"


@pytest.mark.parametrize(
    ("hearing", "outcome"),
    [
        (heard((READING, -1.0)), "accepted"),
        (heard((READING, -5.9)), "accepted"),
        (heard((READING, -6.1)), "asked"),
        (heard((READING, -11.1)), "ignored"),
        (heard((READING, -1.0), ("streak vertical neutral at plus two", -2.9)), "asked"),
        (heard((READING, -1.0), ("streak vertical neutral at plus two", -3.1)), "accepted"),
        (Hearing("test", (), "hello", -1.0, 0.1), "ignored"),
        # The phrase must account for what was spoken.
        (heard(("no", -1.0), free="no it is not a sharp pain"), "ignored"),
        (heard(("streak vertical neutral", -1.0), free="streak vertical neutral ablus one"), "asked"),
        (heard((READING, -1.0), free="well streak vertical neutral at plus one"), "accepted"),
        (heard(("scissors", -1.5), free="this is hers"), "asked"),
        (heard(("scissors", -0.5), free="this is hers"), "accepted"),
        # Fifteen and fifty, and the second listener.
        (heard(("streak 50 with", -1.0), ("streak 15 with", -4.0)), "asked"),
        (heard(("streak 50 with", -1.0), ("streak 15 with", -5.1)), "accepted"),
        (heard(("streak 60 with", -1.0), ("streak 16 with", -1.6)), "accepted"),
        (heard(("streak 50 with", -1.0), ("streak 15 with", -2.0), second=0.2), "accepted"),
        (heard(("streak 50 with", -1.0), ("streak 15 with", -1.4), second=0.2), "asked"),
        (heard(("streak 50 with", -1.0), second=0.05), "asked"),
        (heard(("streak 50 with", -1.0), second=-3.0), "asked"),
        # Axes that are likelier misheard than meant.
        (heard(("streak 16 with", -1.0)), "asked"),
        (heard(("streak 2 with", -1.0)), "asked"),
        (heard(("streak 190 with", -1.0)), "asked"),
        (heard(("streak 172 with", -1.0)), "accepted"),
        (heard(("streak 5 with", -1.0)), "accepted"),
    ],
)
def test_outcomes(hearing: Hearing, outcome: str) -> None:
    assert decide(hearing, ENGLISH, LIMITS) == outcome


@pytest.mark.parametrize(
    ("one", "other", "rival"),
    [
        ("streak 50 with", "streak 15 with", "plain"),
        ("streak 15 with", "streak 50 with", "plain"),
        ("streak 60 with", "streak 16 with", "odd"),
        ("streak 16 with", "streak 60 with", "plain"),
        ("streak 150 with", "streak 115 with", "plain"),
        ("sphere plus fifty", "sphere plus fifteen", "plain"),
        ("sphere plus one fifty", "sphere plus one fifteen", "plain"),
        ("streak 50 with", "streak 115 with", None),
        ("streak 50 with", "streak 15 against", "plain"),
        ("streak 50 with", "meridian 15 with", "plain"),
        ("sphere plus fifty", "sphere minus fifteen", None),
        ("streak 50 with", "streak 60 with", None),
        ("streak 50 with", "streak 50 with", None),
        ("right eye", "left eye", None),
    ],
)
def test_rivals(one: str, other: str, rival: str | None) -> None:
    assert misheard_rival(meanings(one), meanings(other), ENGLISH) == rival


def test_odd_axes() -> None:
    odd = [axis for axis in range(1, 181) if has_odd_axis(meanings(f"streak {axis} with"), ENGLISH)]

    assert odd == [*range(1, 5), *range(6, 10), 13, 14, *range(16, 20), 113, 114, *range(116, 120)]


def test_the_shipped_limits_are_in_order() -> None:
    limits = default_limits()

    assert limits.ask_score < limits.accept_score < 0
    assert 0 < limits.odd_teen_margin <= limits.accept_margin <= limits.teen_margin
