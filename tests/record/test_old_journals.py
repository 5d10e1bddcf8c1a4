"""Journals written before entries were complete open, fit their hashes, and come to what the program of then showed.

Where they do not, the rule of today that makes the difference stands beside it (DIFFERENT).
"""

import io
import json
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from rich.console import Console, RenderableType

from voicelog.record import acts
from voicelog.record.clips import Clips
from voicelog.record.errors import CannotFollowError
from voicelog.record.events import Amended
from voicelog.record.exams import ExamRecord
from voicelog.record.export import exam_file
from voicelog.record.export.formats import FORMATS, exported
from voicelog.record.export.further import further
from voicelog.record.export.old_exam_file import OldExamFile
from voicelog.record.export.refractions import refractions
from voicelog.record.journal import Journal
from voicelog.record.listing import Wanted
from voicelog.record.old_events import Said
from voicelog.record.showing import exam_view, exams_table
from voicelog.record.verifying import refresh_list, verify
from voicelog.session import Session
from voicelog.settings import Settings

from ..english import load
from .cases import MORNING, clock

KEPT = Path(__file__).parent / "journals_v1"
NAMES = tuple(sorted(path.stem for path in KEPT.glob("*.json")))

DIFFERENT: dict[tuple[str, str], tuple[str, str]] = {
    ("asked", "right"): ("-3.00 -1.00 x 090", "the last neutral of a meridian stands; was a conflict"),
    ("distance", "right"): ("+0.75 -0.50 x 180", "the last neutral of a meridian stands; was a conflict"),
    ("drops", "right"): (
        "+1.00 DS (dry); +4.00 DS (wet)",
        "dry and wet are never averaged; was their mean, +2.50 DS",
    ),
    ("incomplete", "right"): (
        "+0.50 -1.50 x 090",
        "a corrected cylinder keeps its axis; it was lost, and with it the cylinder",
    ),
    ("mirror", "right"): (
        "+0.50 -1.00 x 090",
        "each reading has its own mirror; a setting for the left eye was held against the right one",
    ),
    ("repeated", "left"): (
        "+1.50 -1.25 x 178",
        "a meridian within 10 degrees of a measured one belongs to it; was +2.25 -3.00 x 031",
    ),
    ("repeated", "right"): ("+1.00 -1.50 x 090", "the last neutral of a meridian stands; was averaged"),
    ("scratched", "left"): ("+0.50 -1.00 x 180", "the last neutral of a meridian stands; was a conflict"),
    ("spherecyl", "left"): ("plano -1.50 x 090", "the last neutral of a meridian stands; was averaged"),
}
NOT_TAKEN_UP = {"incomplete": {2: "and the sphere?"}}
"""A cylinder of a refraction without any sphere is no entry."""


@pytest.fixture(name="old")
def _old(tmp_path: Path) -> Iterator[Journal]:
    """The journal of then, in a copy: opening one may write to it."""
    shutil.copy(KEPT / "voicelog.db", tmp_path / "voicelog.db")
    with Journal.open(tmp_path) as journal:
        yield journal


def file_of(name: str) -> tuple[OldExamFile, ExamRecord]:
    """An export of then with the exam that its events make now."""
    file = exam_file.read(KEPT / f"{name}.json")
    assert isinstance(file, OldExamFile)
    return file, exam_file.record_of(file)


def result_now(record: ExamRecord, eye: str) -> str:
    """What the list of exams says of an eye."""
    found = [each for each in refractions(record) if each.eye == eye]
    alone = {each.condition for each in found} <= {"dry"}
    return "; ".join(
        str(each.lens) if alone else f"{each.lens} ({each.condition})"
        for each in found
        if each.lens is not None
    )


def result_then(file: OldExamFile, eye: str) -> str:
    """The same of then."""
    for each in file.findings:
        if each.eye == eye and each.method == "retinoscopy" and each.written is not None:
            sphere = f"{each.written.sphere_d:+.2f}" if each.written.sphere_d else "plano"
            if not each.written.cylinder_d:
                return "plano" if sphere == "plano" else f"{sphere} DS"
            return f"{sphere} {each.written.cylinder_d:+.2f} x {each.written.axis_deg:03.0f}"
    return ""


def test_the_whole_journal_is_without_fault(old: Journal) -> None:
    verdict = verify(old, deep=True)

    assert verdict.faults == ()
    assert (verdict.exams, verdict.events) == (16, 245)
    assert {fault.exam for fault in verdict.outdated} == {
        exam for exam in ids(old).values() if f"{named(old, exam)}" in {name for name, _ in DIFFERENT}
    }
    assert all("verify --refresh" in fault.what for fault in verdict.outdated)


def ids(journal: Journal) -> dict[str, str]:
    """Exams by the names of their files."""
    return {each.reference.removeprefix("old "): each.id for each in journal.overviews()}


def named(journal: Journal, exam: str) -> str:
    return next(name for name, each in ids(journal).items() if each == exam)


def test_the_list_can_be_worked_out_anew(old: Journal) -> None:
    digest = verify(old).digest

    assert refresh_list(old) == len({name for name, _ in DIFFERENT})

    verdict = verify(old, deep=True)
    assert (verdict.faults, verdict.outdated) == ((), ())
    assert verdict.digest == digest


@pytest.mark.parametrize("name", NAMES)
def test_results_are_those_that_were_shown(name: str) -> None:
    file, record = file_of(name)

    for eye in ("right", "left"):
        then, now = result_then(file, eye), result_now(record, eye)
        if (name, eye) in DIFFERENT:
            assert now == DIFFERENT[name, eye][0] != then
        else:
            assert now == then


@pytest.mark.parametrize("name", NAMES)
def test_readings_are_those_that_were_shown(name: str) -> None:
    """Meridian, motion, powers and distance of each, but for the two whose lens a rule of today keeps whole."""
    file, record = file_of(name)
    then = {
        (
            each.entry,
            each.meridian_deg,
            each.motion,
            each.gross_d,
            each.net_d,
            _tenths(each.working_distance_cm),
        )
        for found in file.findings
        for each in found.readings
    }
    now = {
        (each.number, each.meridian_deg, each.motion, each.gross_d, each.net_d, _tenths(each.distance_cm))
        for found in refractions(record)
        for each in found.readings
    }

    if name == "incomplete":
        assert {each[:4] for each in now - then} == {(4, 180, "neutral", 0.5)}
        assert {each[:4] for each in then - now} == {(4, 180, "neutral", 2.0)}
    else:
        assert now == then


def _tenths(distance_cm: float | None) -> float | None:
    """A lens of +1.50 alone stands for 66.667 cm, which then had more digits."""
    return None if distance_cm is None else round(distance_cm, 1)


@pytest.mark.parametrize("name", NAMES)
def test_findings_are_those_that_were_shown(name: str) -> None:
    """The numbers of each; an addition of both eyes was written for either, and passes said nothing of drops."""
    file, record = file_of(name)
    then = {
        (found.code, part.part, part.value, part.unit)
        for found in file.further
        if found.code != "passes"
        for part in found.quantities
    }
    now = {
        (found.code, part.part, part.value, part.unit)
        for found in further(record)
        for part in found.quantities
    }
    refined = [each.written for each in file.findings if each.method == "refined" and each.written]
    then |= {("refined-refraction", "sphere", each.sphere_d, "[diop]") for each in refined}

    assert then <= now
    old_codes = {found.code for found in file.further} - {"passes"}
    assert {code for code, *_ in now if code in old_codes} == {code for code, *_ in then if code in old_codes}


@pytest.mark.parametrize("name", NAMES)
def test_what_could_not_be_taken_up_is_named(name: str) -> None:
    _, record = file_of(name)
    shown = printed(exam_view("20260302-xxxxxxxx", record, Clips(Path("nowhere"), 0)))

    assert dict(record.not_taken_up) == NOT_TAKEN_UP.get(name, {})
    for number, why in record.not_taken_up.items():
        assert f"not taken up: {why}" in shown
        assert f"entry {number} is not taken up: {why}" in record.unresolved
    assert ("not taken up" in shown) == bool(record.not_taken_up)


def printed(shown: RenderableType) -> str:
    """As on a wide terminal."""
    file = io.StringIO()
    Console(width=300, markup=False, highlight=False, file=file).print(shown)
    return file.getvalue()


@pytest.mark.parametrize("form", FORMATS.values(), ids=lambda form: form.name)
def test_every_exam_goes_out_in_every_form(old: Journal, form: Any) -> None:
    for exam in ids(old).values():
        assert len(exported(old, exam, form)) > 100


def test_the_events_go_out_as_they_were_hashed(old: Journal, tmp_path: Path) -> None:
    for name, exam in ids(old).items():
        path = tmp_path / f"{name}-now.json"
        path.write_bytes(exported(old, exam, FORMATS["json"]))

        file = exam_file.read(path)
        then = json.loads((KEPT / f"{name}.json").read_text())

        assert isinstance(file, exam_file.ExamFile)
        assert json.loads(path.read_text())["events"] == then["events"]
        assert exam_file.record_of(file) == old.exam(exam)


def test_old_exams_are_listed(old: Journal) -> None:
    shown = printed(exams_table(old.overviews(Wanted())))

    assert all(exam in shown for exam in ids(old).values())


def test_an_exam_begun_then_goes_on_today(old: Journal) -> None:
    """Its open question is answered, a reading of then is corrected, and one is taken back."""
    exam = ids(old)["unfinished"]
    store = old.reopen(exam)
    assert store.record is not None
    times = clock(MORNING)
    session = Session(
        Settings(), grammar=load(), store=store, resumed=store.record.state, now=lambda: next(times)
    )

    for line in ("plus", "vertical neutral at plus one", "correction plus two", "scratch that"):
        assert session.type_line(line).outcome == "accepted", line

    left = session.state.eyes["left"]
    assert [(each.id, each.meridian_deg, each.gross_d) for each in left.neutral] == [
        ("6", 90, 2.0),
        ("7", 180, 1.0),
    ]
    assert old.exam(exam) == store.record
    assert verify(old).faults == ()


def test_an_old_exam_is_amended_in_todays_form(old: Journal) -> None:
    exam = ids(old)["spherecyl"]
    store = old.reopen(exam)
    assert store.record is not None
    event = acts.amendment(
        store.record,
        store.record.events[-1].at,
        by="AB",
        reason="misread",
        entry="3",
        phrase="neutral with sphere plus two",
        grammar=load(),
    )
    store.append(event)

    assert isinstance(event, Amended)
    # The sphere stayed behind the cylinder of entry 4: it was one lens.
    assert [change.id for change in event.changes] == ["3", "4"]
    assert str(store.record.eyes["right"].result) == "plano -1.75 x 090"


def test_events_of_the_old_form_are_never_written(old: Journal) -> None:
    store = old.reopen(ids(old)["unfinished"])
    assert store.record is not None
    event = next(event for event in store.record.events if isinstance(event, Said))

    with pytest.raises(CannotFollowError, match="only read"):
        store.append(event.model_copy(update={"number": store.record.next_number}))


def test_old_amendments_attestation_and_added_words_stand() -> None:
    _, record = file_of("amended")

    assert [each.entry for each in record.amendments.values()] == ["3", "8", "9"]
    assert record.state.ledger.rows["8"].withdrawn
    assert (
        record.state.ledger.rows["4"].entry.quantities()
        != record.state.ledger.rows["4"].original.quantities()
    )
    assert record.attested is not None
    assert record.attested.right is not None
    assert record.attested_otherwise == ()
    assert [each.text for each in record.addenda] == ["seen again in May"]
