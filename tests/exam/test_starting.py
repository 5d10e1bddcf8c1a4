"""What the estimate begins from: only what was asked for, always named, taken back like any entry; the result is as it was."""

from datetime import date

import pytest

from tests.exam.typing import Typist, typed
from voicelog.exam.advising import all_looks_words, belief_of
from voicelog.exam.entries import AgeEntry, EarlierResult, StartEntry
from voicelog.exam.findings import Findings
from voicelog.exam.starting import known_before
from voicelog.exam.state import EYES, ExamState
from voicelog.session import Session
from voicelog.settings import Settings

WORN = "spectacles right eye sphere minus two cylinder minus one axis 90"
LOOKED = "working distance 50\nright eye\nstreak 90 with at minus 1.25\nstreak 90 against at minus 0.75\nstreak 180 neutral at plano"
FROM_GLASSES = f"{WORN}\nstart from the glasses\n{LOOKED}"
NAMED = "known before: spectacles worn -2.00 -1.00 x 090"


def right(state: ExamState) -> str:
    """What is said of the right eye's looks."""
    return all_looks_words(state.eyes["right"])


@pytest.mark.parametrize(
    ("line", "source"),
    [
        ("start from the glasses", "spectacles"),
        ("begin with his own spectacles", "spectacles"),
        ("start from specs", "spectacles"),
        ("start the estimate from nothing", "nothing"),
        ("start from nothing", "nothing"),
        ("start from glasses", "spectacles"),
        ("start from age", "age"),
        ("begin the estimate with her age", "age"),
    ],
)
def test_what_is_asked_for_is_entered(line: str, source: str) -> None:
    lines, state = typed(line)

    assert lines[-1].outcome == "accepted"
    start = state.findings.last(StartEntry)
    assert start is not None
    assert start.source == source


@pytest.mark.parametrize(
    "line",
    ["start", "start listening", "start again", "start from plus two", "age seven", "start from seven"],
)
def test_what_only_sounds_like_it_is_none(line: str) -> None:
    _, state = typed(line)

    assert state.findings.last(StartEntry) is None


def test_a_visit_cannot_be_begun_from_without_a_record() -> None:
    lines, state = typed("start from the last visit")

    assert lines[-1].reply == (
        "the estimate cannot start from a visit: no record of earlier visits is at hand"
    )
    assert lines[-1].outcome == "asked"
    assert state.question is None
    assert not state.ledger.rows


def test_spectacles_alone_change_nothing_until_they_are_asked_for() -> None:
    _, plain = typed(LOOKED)
    _, worn = typed(f"{WORN}\n{LOOKED}")
    _, begun = typed(FROM_GLASSES)

    assert right(worn) == right(plain)
    assert "known before: nothing" in right(plain)
    assert NAMED in right(begun)
    assert begun.eyes["left"].before.worn is None
    assert "(no spectacles were entered)" in belief_of(begun.eyes["left"]).prior.name or (
        "the distance was not said" in belief_of(begun.eyes["left"]).prior.name
    )


def test_the_order_in_which_it_is_said_does_not_matter() -> None:
    _, after = typed(f"{LOOKED}\nstart from the glasses\n{WORN}")

    assert right(after) == right(typed(FROM_GLASSES)[1])


def test_the_plain_result_is_the_same() -> None:
    """With a look that contradicts, with pairs that solve, and asked at any time."""
    for looks in (LOOKED, LOOKED + "\nstreak 90 neutral at minus 1\nstreak 180 neutral at plus one"):
        plain = typed(looks)[1]
        for lines in (f"{WORN}\nstart from the glasses\n{looks}", f"{looks}\n{WORN}\nstart from the glasses"):
            begun = typed(lines)[1]
            for name in EYES:
                assert begun.eyes[name].solution == plain.eyes[name].solution
                assert begun.eyes[name].result == plain.eyes[name].result
                assert begun.eyes[name].status == plain.eyes[name].status
                assert begun.eyes[name].uncertainty == plain.eyes[name].uncertainty


def test_what_fits_narrows_the_estimate() -> None:
    few = "working distance 50\nright eye\nstreak 90 with at minus 1.5\n"
    plain, begun = (
        belief_of(typed(f"{first}{few}")[1].eyes["right"])
        for first in ("", f"{WORN}\nstart from the glasses\n")
    )

    assert begun.start_fits
    assert begun.uncertainty.m_sd_d < 0.5 * plain.uncertainty.m_sd_d


def test_what_does_not_fit_is_said() -> None:
    """At 50 cm the spectacles ask for -1.00 gross along 180; with motion at +1.00 says more plus than 2 D off."""
    lines, state = typed(
        f"{WORN}\nstart from the glasses\nworking distance 50\nright eye\nstreak 90 with at plus 1\n"
        "streak 90 with at plus 2\nestimate so far\nwhat next"
    )

    told = "; the start does not fit this eye: spectacles worn -2.00 -1.00 x 090"
    assert told in lines[-2].reply
    assert told in lines[-1].reply
    assert told not in right(typed(FROM_GLASSES)[1])
    assert state.eyes["right"].status == "incomplete"


def test_it_is_taken_back_and_brought_back_like_any_entry() -> None:
    typist = Typist()
    for line in f"{WORN}\n{LOOKED}".splitlines():
        typist.type(line)
    before = right(typist.state)

    told = typist.type("start from the glasses").reply
    begun = right(typist.state)
    assert told == "estimate starts from the spectacles worn"
    assert NAMED in begun

    assert typist.type("scratch that").reply == f"taken back: {told}"
    assert right(typist.state) == before

    typist.type("redo")
    assert right(typist.state) == begun

    assert (
        typist.type("start from nothing").reply
        == "estimate starts from nothing, instead of the spectacles worn"
    )
    assert right(typist.state) == before


def test_other_spectacles_are_begun_from_at_once() -> None:
    _, state = typed(f"{FROM_GLASSES}\nspectacles right eye sphere minus 2.5")

    assert "known before: spectacles worn -2.50 -1.00 x 090" in right(state)


def test_the_age_is_begun_from_only_where_it_is_asked_for() -> None:
    """Entered before or after; said again another one counts at once; none entered: nothing, and why."""
    aged = f"age 7\n{LOOKED}"
    begun = typed(f"start from age\n{aged}")[1]
    told = "known before: eyes of the age of 7 years"

    assert right(typed(aged)[1]) == right(typed(LOOKED)[1])
    assert told in right(begun)
    assert right(typed(f"{LOOKED}\nage 7\nstart from age")[1]) == right(begun)
    assert "eyes of the age of 8 years" in right(typed(f"{aged}\nstart from age\nage 8")[1])
    assert "known before: nothing (no age was entered)" in right(typed(f"start from age\n{LOOKED}")[1])
    assert begun.eyes["right"].solution == typed(LOOKED)[1].eyes["right"].solution


def test_an_age_narrows_what_one_look_leaves() -> None:
    """At 50 cm a with motion at +2.00 leaves 0 D and more; of a child of four that is near +1.1 D."""
    one = "working distance 50\nright eye\nstreak 90 with at plus 2\n"
    plain, aged = (
        belief_of(typed(f"{first}{one}")[1].eyes["right"]) for first in ("", "age 4\nstart from age\n")
    )

    assert aged.uncertainty.m_sd_d < 0.6 * plain.uncertainty.m_sd_d
    assert aged.start_fits


def test_an_eye_that_no_age_makes_likely_is_told() -> None:
    """With motion at +12.00, at 50 cm, is 10 D or more."""
    _, state = typed(
        "age 4\nstart from age\nworking distance 50\nright eye\nstreak 90 with at plus 11\nstreak 90 with at plus 12"
    )

    assert "the start does not fit this eye: eyes of the age of 4 years" in right(state)


def test_the_setting_begins_every_exam_from_the_age() -> None:
    session = Session(Settings(estimate_from="age", working_distance_cm=50))
    for line in ("age 7", "right eye"):
        session.type_line(line)

    assert session.type_line("streak 90 with at minus 1.25").reply.endswith("; estimate starts from the age")
    assert "eyes of the age of 7 years" in right(session.state)


def test_an_eye_without_spectacles_begins_from_nothing_and_says_why() -> None:
    _, state = typed(f"start from the glasses\n{LOOKED}")

    assert "known before: nothing (no spectacles were entered)" in right(state)


def test_while_no_distance_is_known_it_begins_from_nothing() -> None:
    """What was found before is net, and the lenses in hand are not."""
    looks = LOOKED.partition("\n")[2]
    _, state = typed(f"{WORN}\nstart from the glasses\n{looks}")

    assert "gross, from " in right(state)
    assert "known before: nothing (the distance was not said)" in right(state)
    plain = typed(looks)[1]
    assert belief_of(state.eyes["right"]).estimate == belief_of(plain.eyes["right"]).estimate


def test_the_first_look_is_advised_where_the_spectacles_say() -> None:
    """Spectacles of -2.00 DS at 50 cm: neutral near plano; from nothing the middle of all lenses is as good."""
    lines, _ = typed(
        "spectacles right eye sphere minus six\nstart from the glasses\nworking distance 50\nright eye\nwhat next"
    )

    assert "sphere -4." in lines[-1].reply or "sphere -3.75" in lines[-1].reply


def test_the_setting_begins_every_exam_from_the_spectacles() -> None:
    """With the first look, as one act with it; what was said before goes first."""
    session = Session(Settings(estimate_from="spectacles", working_distance_cm=50))
    for line in (WORN, "right eye"):
        assert "estimate" not in session.type_line(line).reply

    told = session.type_line("streak 90 with at minus 1.25").reply
    assert told.endswith("; estimate starts from the spectacles worn")
    assert NAMED in right(session.state)
    assert "estimate" not in session.type_line("streak 90 against at minus 0.5").reply

    session.type_line("scratch that")
    session.type_line("scratch that")
    assert session.state.findings.last(StartEntry) is None
    assert session.type_line("streak 90 with at minus 1.25").reply.endswith("from the spectacles worn")


def test_what_was_said_goes_before_the_setting() -> None:
    session = Session(Settings(estimate_from="spectacles", working_distance_cm=50))
    for line in (WORN, "start from nothing", "right eye", "streak 90 with at minus 1.25"):
        session.type_line(line)

    assert "known before: nothing" in right(session.state)


def test_a_visit_by_the_setting_without_a_record_is_said_once_and_the_look_is_entered() -> None:
    session = Session(Settings(estimate_from="visit", working_distance_cm=50))
    session.type_line("right eye")

    first = session.type_line("streak 90 with at plus 1")
    assert first.outcome == "accepted"
    assert first.reply.endswith(
        "the estimate cannot start from a visit: no record of earlier visits is at hand"
    )
    assert "visit" not in session.type_line("streak 90 with at plus 2").reply


def test_the_greatest_age_and_months_behind_it() -> None:
    """M moves by 0.2 D a year then, from ten years on as far."""
    found = EarlierResult(eye="right", on=date(2016, 5, 4), days_ago=3652, sphere_d=-1.0)
    start = StartEntry(source="visit", results=(found,))
    findings = Findings().after("1", start).after("2", AgeEntry(years=120, months=11))

    near = known_before(findings, "right").prior("dry").parts[0]

    assert near.m_sd_d == pytest.approx((0.5**2 + 2.0**2) ** 0.5, abs=0.01)
