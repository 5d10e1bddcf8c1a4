"""An answer that comes in two or three pieces: digits with pauses between them. No piece of it stays entered."""

from collections.abc import Sequence

import numpy as np
import pytest

from tests.session.test_session import hearing
from voicelog.exam.events import Line
from voicelog.hearing.engines.protocol import Hearing
from voicelog.hearing.levels import Samples
from voicelog.hearing.utterance import Utterance
from voicelog.session import Session

S = 16000


def unheard(letters: str) -> Hearing:
    """Letters that are no phrase by themselves."""
    return Hearing("script", (), letters, -1.0, 0.0)


class Script:
    """Hears what is written down for it, one after the other."""

    name = "script"

    def __init__(self, *heard: Hearing) -> None:
        self._heard = list(heard)

    def hear(self, samples: Samples, rule: str) -> Hearing:
        return self._heard.pop(0)


def utterance(start_s: float, end_s: float) -> Utterance:
    """Speech from one second to another."""
    start, end = int(start_s * S), int(end_s * S)
    sound = np.zeros(end - start, np.float32)
    runs = ((start, end),)
    return Utterance(0, sound, start, end, 0, 0, "pause", "pause", runs, 0.0, -20.0, -20.0, 0.0)


def said(pauses_s: Sequence[float], *heard: Hearing) -> tuple[list[Line], Session]:
    """What becomes of utterances with these pauses between them, "which axis?" being asked; behind each one but the
    first stands what both together are heard as.
    """
    session = Session(engine=Script(*heard))
    for line in ("right eye", "sphere +2", "cylinder minus one"):
        session.type_line(line)
    starts = np.cumsum([0.0, *(pause + 0.5 for pause in pauses_s)])
    return [session.hear(utterance(float(start), float(start) + 0.5)) for start in starts], session


def axis(session: Session) -> int | None:
    """The axis in place before the right eye."""
    cylinder = session.state.eyes["right"].in_place.lenses.cylinder
    return None if cylinder is None else cylinder.axis_deg


def test_a_first_digit_that_was_no_answer_is_joined_to_the_rest() -> None:
    lines, session = said([1.2], unheard("one"), hearing("seven five"), hearing("one seven five"))

    assert [line.outcome for line in lines] == ["ignored", "accepted"]
    assert axis(session) == 175


def test_where_both_are_not_understood_the_rest_alone_is_no_answer() -> None:
    lines, session = said([1.2], unheard("one"), hearing("seven five"), unheard("one said a five"))

    assert lines[-1].reply == "not clear; the question stays open"
    assert axis(session) is None


def test_talk_before_an_answer_is_not_joined_to_it() -> None:
    _, session = said([0.8], unheard("she is nice"), hearing("seventy five"))

    assert axis(session) == 75


def test_digits_behind_an_axis_that_was_entered_put_it_right() -> None:
    lines, session = said([0.8], hearing("axis one two"), unheard("five"), hearing("axis one two five"))
    assert [line.outcome for line in lines] == ["accepted"] * 2
    assert "axis 125 in place, instead of" in lines[-1].reply
    assert axis(session) == 125


def test_what_was_joined_may_go_on() -> None:
    lines, session = said(
        [1.2, 0.8],
        unheard("one"),
        hearing("two two"),
        hearing("one two"),
        unheard("five"),
        hearing("one two five"),
    )

    assert [line.outcome for line in lines] == ["ignored", "accepted", "accepted"]
    assert axis(session) == 125


def test_digits_that_are_not_sure_behind_an_axis_are_asked_about() -> None:
    doubtful = hearing("axis one zero two", log=-8.0)
    lines, session = said([0.8], hearing("axis one zero"), unheard("two"), doubtful)

    assert lines[-1].reply == "did you say: correction: axis 102?"
    session.type_line("yes")
    assert axis(session) == 102


@pytest.mark.parametrize("pause_s", [2.0, 5.0])
def test_long_after_it_nothing_is_joined(pause_s: float) -> None:
    _, session = said([pause_s], unheard("one"), hearing("seven five"))

    assert axis(session) == 75
