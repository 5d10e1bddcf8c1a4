"""The exam's own knowledge makes a heard entry a question; it changes no value, and typed entries are entered."""

import pytest

from tests.english import load
from tests.exam.typing import typed
from voicelog.exam.breath import Reply
from voicelog.exam.exchange import respond
from voicelog.exam.unlikely import ODD_AXIS_MARGIN_LOG, PLAUSIBLE_CYLINDER_D, Evidence, unlikely
from voicelog.optics import COMMON_LENS_SET, LensSet
from voicelog.phrases import meanings as say
from voicelog.phrases.automaton import Layer
from voicelog.phrases.lines import LineReader

HALVES = LensSet(spheres_d=(0.5, 1.0, 1.5, 2.0, 10.0), cylinders_d=(0.5, 1.0))
BEFORE = "right eye\nworking distance 67"


def meaning(line: str) -> say.Meaning:
    """What a line says."""
    ((found,),) = LineReader(load(), "entry", Layer.WRITTEN).understand(line).readings
    return found


def heard(line: str, evidence: Evidence, before: str = BEFORE) -> Reply:
    """The reply when a line is heard after others were typed."""
    _, state = typed(before)
    return respond(state, [meaning(line)], number=9, heard=True, evidence=evidence)


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("streak 90 neutral at +1.25", "no single sphere of your set has +1.25 D"),
        ("streak 90 neutral at -3", "no single sphere"),
        ("sphere -0.75", "no single sphere"),
        ("cylinder -1.50 axis 90", "no single cylinder of your set has -1.50 D"),
        ("streak 90 neutral with sphere +1 cylinder -0.25 axis 90", "no single cylinder"),
        ("streak 90 neutral at +1.50", None),
        ("streak 90 neutral at plano", None),
        ("cylinder -1 axis 90", None),
        ("streak 90 with at +1", None),
    ],
)
def test_a_power_that_is_not_in_the_set_is_asked_about(line: str, reason: str | None) -> None:
    reply = heard(line, Evidence(HALVES))

    if reason is None:
        assert (reply.outcome, len(reply.acts)) == ("accepted", 1)
    else:
        assert (reply.outcome, reply.acts) == ("asked", ())
        assert reason in reply.text
        assert reply.question is not None
        assert reply.question.candidate == meaning(line)  # as it was heard: nothing is changed


@pytest.mark.parametrize(
    ("line", "asked"),
    [
        ("correction minus one and a quarter", True),
        ("correction minus one and a half", False),
        ("change streak 90 to +1.25", True),
        ("not plus one plus one and a quarter", True),
        ("not plus one plus one and a half", False),
    ],
)
def test_corrections_too(line: str, asked: bool) -> None:
    before = f"{BEFORE}\nstreak 90 neutral at +1"

    assert (heard(line, Evidence(HALVES), before).outcome == "asked") is asked


def test_written_eighths_are_the_lenses_they_mean() -> None:
    assert heard("streak 90 neutral at +0.12", Evidence(COMMON_LENS_SET)).outcome == "accepted"


@pytest.mark.parametrize(
    ("line", "margin", "asked"),
    [
        ("streak 37 with at plus one", ODD_AXIS_MARGIN_LOG - 0.1, True),
        ("streak 37 with at plus one", ODD_AXIS_MARGIN_LOG + 0.1, False),
        ("streak 37 with at plus one", None, False),
        ("streak 35 with at plus one", 2.0, False),
        ("streak 90 neutral with cylinder minus one axis 91", 3.0, True),
        ("streak 90 neutral with cylinder minus one axis 90", 3.0, False),
        ("streak 90 neutral at plus one", 2.0, False),
    ],
)
def test_an_axis_off_fives_needs_a_wider_margin(line: str, margin: float | None, asked: bool) -> None:
    reply = heard(line, Evidence(None, margin))

    assert (reply.outcome == "asked") is asked
    assert ("not in fives" in reply.text) is asked


@pytest.mark.parametrize(
    ("line", "asked"),
    [
        ("streak 180 neutral at -5.00", False),
        ("streak 180 neutral at -5.25", True),
        ("streak 180 neutral at +7.25", True),
        ("streak 180 with at +9", False),
    ],
)
def test_meridians_too_far_apart_are_asked_about(line: str, asked: bool) -> None:
    assert PLAUSIBLE_CYLINDER_D == 6.0  # the lines above are on both sides of it
    reply = heard(line, Evidence(), f"{BEFORE}\nstreak 90 neutral at +1")

    assert (reply.outcome == "asked") is asked
    assert ("meridians would differ" in reply.text) is asked


def test_a_difference_already_known_is_not_asked_about_again() -> None:
    before = f"{BEFORE}\nstreak 90 neutral at +1\nstreak 180 neutral at -8"

    assert heard("streak 45 neutral at -3", Evidence(), before).outcome == "accepted"


@pytest.mark.parametrize(
    "line", ["streak 90 neutral at +1.25", "streak 37 with at plus one", "streak 180 neutral at -9"]
)
def test_typed_entries_are_entered(line: str) -> None:
    _, state = typed(f"{BEFORE}\nstreak 90 neutral at +1")
    reply = respond(state, [meaning(line)], number=9, evidence=Evidence(HALVES, 0.5))

    assert (reply.outcome, len(reply.acts)) == ("accepted", 1)


def test_without_an_eye_there_is_no_reason() -> None:
    _, nothing = typed("working distance 67")

    assert unlikely(nothing, nothing, meaning("streak 90 neutral at +1.25"), Evidence(HALVES, 0.1)) is None


FINISHED = f"{BEFORE}\nstreak 180 neutral at +2\nstreak 90 neutral at +1"


@pytest.mark.parametrize(
    ("line", "asked"),
    [
        ("streak 45 neutral at +1.50", False),
        ("streak 45 neutral at +2.25", False),
        ("streak 45 neutral at -3.00", True),
        ("streak 90 neutral at +1.50", False),
        ("streak 90 neutral at -1.00", True),
        ("streak 90 with at +4.00", True),
    ],
)
def test_a_reading_far_from_what_the_finished_eye_predicts_is_asked_about(line: str, asked: bool) -> None:
    """Along 135 the eye predicts +1.50 (half way between +2.00 and +1.00); a look is good to about half a dioptre."""
    assert (heard(line, Evidence(), FINISHED).outcome == "asked") is asked


@pytest.mark.parametrize(
    ("one", "other"),
    [("working distance 2", "this is wet"), ("streak 90 plus two", "streak 200 plus three")],
)
def test_what_was_heard_beside_something_impossible_is_asked_about_with_it(one: str, other: str) -> None:
    """Where one part was misheard the others may be; typed, each stands for itself."""
    _, state = typed(BEFORE)
    both = [meaning(one), meaning(other)]

    asked = respond(state, both, number=9, heard=True)
    assert (asked.outcome, asked.acts) == ("asked", ())
    assert asked.question is not None
    assert (asked.question.candidate, *asked.question.rest) == tuple(both)
    typed_question = respond(state, both, number=9).question
    assert typed_question is not None
    assert typed_question.rest == ()
