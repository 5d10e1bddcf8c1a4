"""The instrument itself: it tells right from wrong, and every context leads to its question."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.phrases.said.clock import time_said
from tests.phrases.said.comparing import is_same
from tests.phrases.said.expected import expected
from tests.phrases.said.lists import CONTEXTS, Utterance, opened
from tests.phrases.said.scoring import Verdict, judged, shares, typed
from tests.phrases.said.spoken import streamed
from tests.phrases.said.understood import understood
from voicelog.hearing.sources import SAMPLE_RATE_HZ

READING: Mapping[str, Any] = {
    "kind": "reading",
    "place": {"word": "vertical", "named": "streak"},
    "power": 2.0,
}


@pytest.mark.parametrize("context", CONTEXTS)
def test_a_context_is_led_to(context: str) -> None:
    assert (opened(context).state.question is not None) == context.startswith("question open")


@pytest.mark.parametrize(
    ("meant", "verdict"),
    [
        (READING, Verdict.RIGHT),
        ({**READING, "power": -2.0}, Verdict.WRONG),
        ({**READING, "power": {"value": 2.0, "sign": "unsaid"}}, Verdict.WRONG),
        ({**READING, "place": {"word": "horizontal", "named": "streak"}}, Verdict.WRONG),
        ({**READING, "place": {"word": "vertical", "named": "meridian"}}, Verdict.WRONG),
        ({**READING, "place": {"word": "vertical", "named": "bare"}}, Verdict.WRONG),
        ({**READING, "place": {"word": "horizontal", "named": "meridian"}}, Verdict.RIGHT),
        ({**READING, "eye": "left"}, Verdict.WRONG),
        ([READING, {"kind": "eye", "eye": "left"}], Verdict.WRONG),
        ({"kind": "lens", "command": "in", "power": 2.0}, Verdict.WRONG),
    ],
)
def test_what_is_meant_is_told_from_what_is_not(meant: object, verdict: Verdict) -> None:
    said = Utterance("1", 1, "reading", "eye+distance known", "streak vertical plus two", meant)

    assert judged(said, opened(said.context).type_line(said.text)) == verdict


def test_a_guess_and_a_refusal_are_told_apart() -> None:
    said = Utterance("1", 1, "eye", "start", "jiggling left eye", {"kind": "eye", "eye": "left"})
    other = Utterance("2", 1, "eye", "start", "jiggling left eye", {"kind": "eye", "eye": "right"})
    none = Utterance("3", 1, "eye", "start", "it fills the pupil", {"kind": "eye", "eye": "right"})

    assert [judged(each, opened("start").type_line(each.text)) for each in (said, other, none)] == [
        Verdict.ASKED,
        Verdict.ASKED_ELSE,
        Verdict.REFUSED,
    ]


def test_what_nobody_heard_left_no_trace() -> None:
    said = Utterance("1", 1, "eye", "start", "right eye", {"kind": "eye", "eye": "right"})
    lines = streamed(opened("start"), np.zeros(SAMPLE_RATE_HZ, np.float32))

    assert judged(said, *lines) == Verdict.NO_TRACE


def test_what_two_utterances_enter_must_be_all_that_was_meant() -> None:
    said = Utterance("1", 1, "reading", "eye+distance known", "", [READING, {"kind": "eye", "eye": "left"}])
    session = opened(said.context)
    one, other = session.type_line("streak vertical plus two"), session.type_line("left eye")

    assert judged(said, one, other) == Verdict.RIGHT
    assert judged(said, one) == Verdict.WRONG


def test_eye_place_and_lens_go_on_in_a_breath() -> None:
    line = "right eye vertical with plus two in still with up a half neutral"
    got = understood(opened("start").type_line(line).meanings)

    assert is_same(expected(_in_steps("bare")), got)
    assert not is_same(expected(_in_steps("streak")), got)


def _in_steps(named: str) -> list[Mapping[str, Any]]:
    """With at +2.00, a half more, and neutral there."""
    where = {"place": {"word": "vertical", "named": named}}
    return [
        {"kind": "reading", "eye": "right", **where, "power": 2.0, "motion": "with"},
        {"kind": "lens", "command": "step", "power": {"step": 0.5}},
        {"kind": "reading", **where, "power": 2.5, "motion": "neutral"},
    ]


def test_a_list_is_read_and_weighed(tmp_path: Path) -> None:
    path = tmp_path / "list.tsv"
    path.write_text(
        "id\tpersona\tweight\tgroup\tcontext\tutterance\tmeaning\tstructured\n"
        'a\tx\t3\teye\tstart\tright eye\t\t{"kind":"eye","eye":"right"}\n'
        'b\tx\t1\teye\tstart\tleft eye\t\t{"kind":"eye","eye":"right"}\n'
    )

    assert shares(typed(path)) == {
        Verdict.RIGHT: 75,
        Verdict.ASKED: 0,
        Verdict.ASKED_ELSE: 0,
        Verdict.REFUSED: 0,
        Verdict.NO_TRACE: 0,
        Verdict.WRONG: 25,
    }


@pytest.mark.parametrize(
    ("words", "time"),
    [
        ("quarter to eleven", ("at", 10, 45)),
        ("ten past two", ("at", 2, 10)),
        ("half past nine", ("at", 9, 30)),
        ("nine fifteen", ("at", 9, 15)),
        ("quarter to one", ("at", 12, 45)),
        ("twenty five minutes ago", ("ago", 0, 25)),
        ("three o'clock", ("at", 3, 0)),
        ("now", None),
        ("yesterday", ("yesterday", 0, 0)),
    ],
)
def test_times_of_day_are_read(words: str, time: object) -> None:
    assert time_said(words) == time
