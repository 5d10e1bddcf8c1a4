"""An estimate that begins from an earlier exam of the same reference: which one, how it is named, and what is kept of it."""

import shutil
import subprocess
from datetime import timedelta
from pathlib import Path

import pytest

from voicelog.cli import record_whole
from voicelog.exam.advising import all_looks_words, belief_of
from voicelog.exam.entries import StartEntry
from voicelog.exam.events import Line
from voicelog.record.export.formats import FORMATS, exported
from voicelog.record.journal import Journal
from voicelog.record.visits import begun_from
from voicelog.session import Session
from voicelog.settings import Settings

from .cases import MORNING, dictated
from .test_visits import seen

LATER = MORNING + timedelta(days=365)
LOOK = ("working distance 50", "right eye", "streak 90 with at minus 0.5")
ASK = "start from the last visit"


def begun(journal: Journal, *lines: str, reference: str = "k-17") -> Session:
    """An exam a year later."""
    return dictated(journal, lines, reference, LATER)[1]


def right(session: Session) -> str:
    """What is said of the right eye's looks."""
    return all_looks_words(session.state.eyes["right"])


def test_it_begins_from_the_last_visit_of_the_reference(journal: Journal) -> None:
    """Net -1.00 and then -1.25; the other reference and what came later are not taken."""
    seen(journal, "k-17", "+1.00", 0)
    seen(journal, "K-17", "+0.75", 100)
    seen(journal, "k-170", "+5.00", 200)
    seen(journal, "k-17", "-3.00", 500)

    session = begun(journal, ASK, *LOOK)

    (asked,) = (each for each in session.state.events if isinstance(each, Line) and each.text == ASK)
    assert asked.reply == "estimate starts from the visit of 2026-03-05 (right -1.25 DS)"
    assert "known before: the visit of 2026-03-05, -1.25 DS" in right(session)
    start = session.state.findings.last(StartEntry)
    assert start is not None
    assert [each.days_ago for each in start.results] == [265]


def test_nothing_of_it_is_taken_unasked(journal: Journal) -> None:
    seen(journal, "k-17", "+1.00", 0)

    assert "known before: nothing" in right(begun(journal, *LOOK))


def test_an_eye_of_its_own_and_a_condition_of_its_own(journal: Journal) -> None:
    """The left eye was not seen, and under drops the eye is another one."""
    seen(journal, "k-17", "+1.00", 0)
    seen(journal, "k-17", "+2.00", 200, "drops cyclopentolate 1% both")
    session = begun(journal, ASK, *LOOK)

    assert "known before: the visit of 2025-11-25, -1.00 DS" in right(session)
    for line in ("drops cyclopentolate 1% both", "streak 90 with at plus 1"):
        session.type_line(line)
    assert "known before: the visit of 2026-06-13, plano" in right(session)
    for line in ("left eye", "streak 90 with at plus 1"):
        session.type_line(line)
    left = session.state.eyes["left"]
    assert "known before: nothing (no earlier wet result of this eye)" in all_looks_words(left)


def test_the_age_that_was_said_says_how_far_it_may_have_moved(journal: Journal) -> None:
    seen(journal, "k-17", "+1.00", 0)
    session = begun(journal, ASK, *LOOK)
    child = belief_of(session.state.eyes["right"]).prior.parts[0].m_sd_d
    session.type_line("age forty")
    grown = belief_of(session.state.eyes["right"]).prior.parts[0].m_sd_d

    assert child == pytest.approx((0.5**2 + 0.6**2) ** 0.5, abs=0.002)
    assert grown == pytest.approx((0.5**2 + 0.1**2) ** 0.5, abs=0.002)


@pytest.mark.parametrize(
    ("reference", "why"),
    [("", "the exam has no reference"), ("k-9", "no earlier visit of this reference has a result")],
)
def test_why_there_is_none_is_said(journal: Journal, reference: str, why: str) -> None:
    seen(journal, "k-17", "+1.00", 0)
    dictated(journal, ("right eye", "streak 90 with at plus 1"), "k-9", MORNING)
    session = begun(journal, *LOOK, reference=reference)

    told = session.type_line(ASK)

    assert told.reply == f"the estimate cannot start from a visit: {why}"
    assert session.state.findings.last(StartEntry) is None


def test_it_is_kept_with_what_it_rests_on(journal: Journal) -> None:
    """Read again it is the same, though the earlier exam says another thing by then."""
    seen(journal, "k-17", "+1.00", 0)
    store, session = dictated(journal, (ASK, *LOOK), "k-17", LATER)
    seen(journal, "k-17", "+4.00", 10)

    kept = journal.exam(store.exam)

    assert all_looks_words(kept.eyes["right"]) == right(session)
    assert kept.eyes["right"].solution == session.state.eyes["right"].solution


def test_the_setting_begins_from_it_with_the_first_look(journal: Journal) -> None:
    seen(journal, "k-17", "+1.00", 0)
    session = Session(
        Settings(naming="streak", estimate_from="visit"),
        store=journal.begin(LATER),
        reference="k-17",
        now=lambda: LATER,
    )
    told = [session.type_line(line).reply for line in LOOK]

    assert told[-1].endswith("; estimate starts from the visit of 2025-11-25 (right -1.00 DS)")
    assert all("estimate" not in each for each in told[:-1])


@pytest.mark.parametrize("form", ["note", "csv", "json", "fhir"])
def test_every_way_out_names_it(journal: Journal, form: str) -> None:
    seen(journal, "k-17", "+1.00", 0)
    store, _ = dictated(journal, (ASK, *LOOK), "k-17", LATER)

    told = exported(journal, store.exam, FORMATS[form]).decode()

    assert "2025-11-25" in told, told


@pytest.mark.skipif(
    shutil.which("pdftotext") is None,
    reason="poppler is not installed (Debian: apt-get install poppler-utils)",
)
def test_the_printed_page_names_it(journal: Journal) -> None:
    seen(journal, "k-17", "+1.00", 0)
    store, _ = dictated(journal, (ASK, *LOOK), "k-17", LATER)
    pdf = exported(journal, store.exam, FORMATS["report"])

    told = subprocess.run(["pdftotext", "-", "-"], input=pdf, capture_output=True, check=True).stdout

    assert "estimate starts from: the visit of 2025-11-25 (right -1.00 DS)" in " ".join(told.decode().split())


def test_an_erasing_names_the_exams_that_keep_a_result_of_it(
    folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Also one that took it back; an exam that started from nothing, or of another reference, is not named."""
    monkeypatch.setenv("VOICELOG_DATA", str(folder))
    with Journal.open() as journal:
        first = seen(journal, "k-17", "+1.00", 0)
        keeps = dictated(journal, (ASK, *LOOK), "k-17", LATER)[0].exam
        took_back = dictated(journal, (ASK, "scratch that", *LOOK), "k-17", LATER)[0].exam
        plain = dictated(journal, LOOK, "k-17", LATER)[0].exam
        seen(journal, "k-170", "+1.00", 0)
        dictated(journal, (ASK, *LOOK), "k-170", LATER)
        assert set(begun_from(journal, first)) == {keeps, took_back}
        assert begun_from(journal, plain) == ()

    assert record_whole.erase(first, by="AB", reason="asked to", yes=True)

    told = capsys.readouterr().out
    for name in (keeps, took_back):
        assert f"note: exam {name} started its estimate from this one and keeps its result" in told
    assert f"note: exam {plain}" not in told
